// An attempt's messages while it runs. Each is repeated until it is answered; the answer may say that the attempt
// no longer counts, which ends it.
import { MillError } from '#shared/errors.ts';
import { type AttemptRef, type Lease, leaseSchema, type Progress } from '#shared/link.ts';
import type { GrainReport } from '#shared/task.ts';
import type { AgentLog } from '../tools/logger.ts';
import { isStale, untilAnswered } from './answer.ts';
import { post } from './coordinator-client.ts';
import type { Coordinator } from './http-request.ts';

export type ReportOfAttempt = {
  readonly coordinator: Coordinator;
  readonly ref: AttemptRef;
  readonly signal: AbortSignal;
  readonly onStale: (reason: string) => void;
  readonly log: AgentLog;
};

const stopped: Lease = { proceed: false, end: 0 };

/** See `AttemptReport` of the tasks. */
export function openReport(report: ReportOfAttempt) {
  let newest: Progress;
  let sending: Promise<Lease> | null = null;
  return {
    /** While one message waits for its answer, later ones only replace what the next try says. */
    progress(progress: Progress): Promise<Lease> {
      newest = progress;
      sending ??= send(report, 'progress', () => newest).finally(() => {
        sending = null;
      });
      return sending;
    },
    grain: (grain: GrainReport): Promise<Lease> => send(report, 'grains', () => grain),
  };
}

async function send(
  report: ReportOfAttempt,
  what: 'progress' | 'grains',
  body: () => unknown,
): Promise<Lease> {
  const { ref, coordinator, signal, log, onStale } = report;
  const answer = await untilAnswered(
    () =>
      post(coordinator, {
        path: pathOf(ref, what),
        body: body(),
        reply: leaseSchema,
        signal,
      }),
    { signal, onSilence: (reason) => log.warn({ what, reason }, 'no answer to a report, trying on') },
  );
  if (isStale(answer)) {
    onStale(answer.kind === 'refused' ? answer.reason : '');
    return stopped;
  }
  if (answer.kind === 'refused') {
    throw new MillError(
      'internal',
      `the coordinator did not take ${what} of ${ref.jobId}: ${answer.reason}; please report this`,
    );
  }
  if (!answer.value.proceed) onStale('the lease has ended');
  return answer.value;
}

export function pathOf({ jobId, attempt }: AttemptRef, what: string): string {
  return `v1/attempts/${jobId}/${attempt}/${what}`;
}
