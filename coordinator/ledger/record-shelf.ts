// Records in memory: all working jobs, and the resting ones that were asked for last. The rest is replayed on demand.
import { LRUCache } from 'lru-cache';
import { isWorking } from '../state/apply-event.ts';
import type { JobRecord } from '../state/job-record.ts';

/** A record and the job's number in the order of receipt. */
export type Shelved = { readonly number: number; readonly record: JobRecord };

export type RecordShelf = {
  put(entry: Shelved): void;
  get(jobId: string): Shelved | undefined;
  /** Highest priority first, then oldest. */
  working(): JobRecord[];
};

/** A record can hold a long source's keyframe list, so not too many. */
const restingKept = 50;

export function createRecordShelf(): RecordShelf {
  const working = new Map<string, Shelved>();
  const resting = new LRUCache<string, Shelved>({ max: restingKept });
  return {
    put(entry) {
      const { id, state } = entry.record;
      if (isWorking(state)) {
        resting.delete(id);
        working.set(id, entry);
      } else {
        working.delete(id);
        resting.set(id, entry);
      }
    },
    get: (jobId) => working.get(jobId) ?? resting.get(jobId),
    working: () => [...working.values()].toSorted(byUrgency).map((entry) => entry.record),
  };
}

function byUrgency(a: Shelved, b: Shelved): number {
  return b.record.submission.priority - a.record.submission.priority || a.number - b.number;
}
