// The coordinator's end of the agents' link: takes what agents report, fenced by attempt number (N7), durable before
// it is answered.
import { MillError } from '#shared/errors.ts';
import type { Failure } from '#shared/failure.ts';
import {
  type AttemptRef,
  type Lease,
  type Progress,
  protocolVersion,
  type RegistrationReply,
} from '#shared/link.ts';
import type { GrainReport, TaskResult } from '#shared/task.ts';
import type { AgentLink } from '../api/api-ports.ts';
import type { JobBook } from '../ledger/job-book.ts';
import { findAttempt, type JobRecord } from '../state/job-record.ts';
import type { Granary } from './granary.ts';
import type { Machines } from './machines.ts';

export type AgentLinkParts = {
  readonly book: JobBook;
  readonly machines: Machines;
  readonly granary: Granary;
  readonly wake: () => void;
  readonly clock: () => number;
  readonly noteProgress: (ref: AttemptRef, progress: Progress) => void;
  /** What a machine needs to work with us; `host` is how it reached us. */
  readonly replyFor: (agentId: string, host: string) => RegistrationReply;
};

export function createAgentLink(parts: AgentLinkParts): AgentLink {
  const { book, machines, granary, wake, clock } = parts;
  return {
    register(registration, host) {
      if (registration.protocol !== protocolVersion) {
        throw new MillError(
          'bad-request',
          `machine ${registration.name} speaks protocol ${registration.protocol}, this coordinator ${protocolVersion}; install the same version of Nightmill on both`,
        );
      }
      machines.register(registration, clock());
      wake();
      return parts.replyFor(registration.agentId, host);
    },
    heartbeat(agentId, heartbeat) {
      const first = machines.get(agentId)?.heartbeat == null;
      machines.heartbeat(agentId, heartbeat, clock());
      if (first) wake();
      return { stop: heartbeat.running.filter((ref) => !counts(book, agentId, ref)) };
    },
    leave(agentId) {
      machines.leave(agentId);
      wake();
    },
    progress(jobId, attempt, progress) {
      const lease = leaseOf(book.get(jobId), attempt);
      if (lease.proceed) parts.noteProgress({ jobId, attempt }, progress);
      return lease;
    },
    async grain(jobId, attempt, grain) {
      await granary.verify(grain);
      return takeGrain(parts, { jobId, attempt }, grain);
    },
    async outcome(jobId, attempt, outcome) {
      if (outcome.ok) await verifyResult(granary, outcome.result);
      const recorded = book.record(jobId, { type: 'ended', attempt, outcome });
      if ('refused' in recorded) throw stale(jobId, attempt, recorded.refused);
      wake();
    },
    receiveFile(upload) {
      if (!leaseOf(book.get(upload.jobId), upload.attempt).proceed) {
        throw stale(upload.jobId, upload.attempt, 'nothing more is taken from it');
      }
      return granary.receive(upload);
    },
    granaryPath: (file) => granary.pathOf(file),
  };
}

function takeGrain(
  { book, wake }: Pick<AgentLinkParts, 'book' | 'wake'>,
  ref: AttemptRef,
  grain: GrainReport,
): Lease {
  const { jobId, attempt } = ref;
  const before = book.get(jobId);
  // The answer to an earlier message was lost and the agent asks again: that is no second grain.
  if (before?.grains.get(grain.index)?.attempt === attempt) return leaseOf(before, attempt);
  const recorded = book.record(jobId, { type: 'grain', attempt, grain });
  if (!('refused' in recorded)) {
    if (recorded.record.state === 'joining') wake();
    return leaseOf(recorded.record, attempt);
  }
  if (before !== null && before.signature !== null && before.signature !== grain.signature) {
    book.record(jobId, {
      type: 'ended',
      attempt,
      outcome: { ok: false, failure: kindFailure(before, attempt, grain) },
    });
    wake();
  }
  throw stale(jobId, attempt, recorded.refused);
}

/** A lane that writes another kind of stream can't go on with this job; its frames go to other lanes (N3). */
function kindFailure(record: JobRecord, attempt: number, grain: GrainReport): Failure {
  const { machine = 'a machine', lane } = findAttempt(record, attempt) ?? {};
  return {
    code: 'signature-mismatch',
    message: `${lane ?? 'the lane'} on ${machine} writes another kind of stream than the grains before; use the same ffmpeg on all machines, or leave this one out`,
    stage: 'encode',
    machine,
    details: { due: record.signature ?? '', written: grain.signature },
  };
}

function counts(book: JobBook, agentId: string, ref: AttemptRef): boolean {
  const record = book.get(ref.jobId);
  const attempt = record === null ? undefined : findAttempt(record, ref.attempt);
  return attempt?.state === 'open' && attempt.agentId === agentId;
}

function leaseOf(record: JobRecord | null, number: number): Lease {
  const attempt = record === null ? undefined : findAttempt(record, number);
  return { proceed: attempt?.state === 'open', end: attempt?.range?.end ?? 0 };
}

async function verifyResult(granary: Granary, result: TaskResult): Promise<void> {
  if (result.kind === 'join') await granary.verify(result);
  if (result.kind === 'sound') for (const track of result.tracks) await granary.verify(track);
}

function stale(jobId: string, attempt: number, why: string): MillError {
  return new MillError('stale-attempt', `attempt ${attempt} of ${jobId}: ${why}; its work is dropped`);
}
