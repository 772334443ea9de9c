// What the event stream says of a change: enough to follow a job, without the bulk of facts, plans and formats.
import { z } from 'zod';
import { assertNever } from '#shared/errors.ts';
import { jobIdSchema } from '#shared/schema-parts.ts';
import type { StoredEvent } from '../../ledger/job-book.ts';
import type { JobEvent } from '../../state/job-events.ts';

const detailValue = z.union([z.string(), z.number(), z.boolean(), z.null()]);

export const changeSchema = z.strictObject({
  seq: z.int(),
  jobId: jobIdSchema,
  at: z.iso.datetime(),
  /** What happened: `received`, `planned`, `opened`, `grain` … */
  type: z.string(),
  detail: z.record(z.string(), detailValue),
});
export type Change = z.infer<typeof changeSchema>;

export function viewChange(stored: StoredEvent): Change {
  const { seq, jobId, atMs, event } = stored;
  return { seq, jobId, at: new Date(atMs).toISOString(), type: event.type, detail: detailOf(event) };
}

function detailOf(event: JobEvent): Change['detail'] {
  switch (event.type) {
    case 'received':
      return { source: event.submission.source, format: event.format.name, deliverable: event.deliverable };
    case 'planned':
    case 'replanned':
      return { frames: event.plan.frames, grainFrames: event.plan.grainFrames };
    case 'opened':
      return {
        attempt: event.attempt,
        kind: event.kind,
        machine: event.machine,
        lane: event.lane,
        first: event.range?.first ?? null,
        end: event.range?.end ?? null,
      };
    case 'grain':
      return {
        attempt: event.attempt,
        grain: event.grain.index,
        frames: event.grain.frames,
        bytes: event.grain.bytes,
      };
    case 'lease-moved':
      return { attempt: event.attempt, end: event.end };
    case 'ended':
      return event.outcome.ok
        ? { attempt: event.attempt, ok: true, kind: event.outcome.result.kind }
        : { attempt: event.attempt, ok: false, reason: event.outcome.failure.message };
    case 'lost':
      return { attempt: event.attempt, reason: event.failure.message };
    case 'stopped':
      return { attempt: event.attempt };
    case 'remade':
      return { grains: event.grains?.length ?? null, fallback: event.fallback, reason: event.reason.message };
    case 'held':
    case 'failed':
      return { reason: event.reason.message };
    case 'cancelled':
    case 'retried':
      return {};
    default:
      return assertNever(event);
  }
}
