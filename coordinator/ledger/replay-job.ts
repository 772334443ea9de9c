// A job's record from its events, through the same function that made it (N8).
import { MillError } from '#shared/errors.ts';
import { applyEvent, beginRecord } from '../state/apply-event.ts';
import type { JobRecord } from '../state/job-record.ts';
import type { StoredEvent } from './job-book.ts';

/** Throws MillError `internal` when the events contradict each other. */
export function replayJob(jobId: string, events: readonly StoredEvent[]): JobRecord {
  const [first, ...rest] = events;
  if (first?.event.type !== 'received') throw broken(jobId, 'its first event is not there');
  return rest.reduce(
    (record, stored) => {
      const applied = applyEvent(record, stored.event, stored.atMs);
      if ('refused' in applied)
        throw broken(jobId, `event ${stored.seq} (${stored.event.type}): ${applied.refused}`);
      return applied.record;
    },
    beginRecord(jobId, first.event, first.atMs),
  );
}

function broken(jobId: string, why: string): MillError {
  return new MillError(
    'internal',
    `job ${jobId} can't be rebuilt from the ledger: ${why}; please report this`,
  );
}
