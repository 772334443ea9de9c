// How far open attempts are, as their agents say it. Not worth keeping: whoever runs an attempt says it again within a
// second.
import type { AttemptRef, Progress } from '#shared/link.ts';

type Listener = (jobId: string, attempt: number, progress: Progress) => void;

export type LiveProgress = {
  note(ref: AttemptRef, progress: Progress): void;
  of(jobId: string): ReadonlyMap<number, Progress>;
  onProgress(listener: Listener): () => void;
  /** Drops a job whose work is over. */
  forget(jobId: string): void;
};

export function createLiveProgress(): LiveProgress {
  const jobs = new Map<string, Map<number, Progress>>();
  const listeners = new Set<Listener>();
  return {
    note({ jobId, attempt }, progress) {
      const attempts = jobs.get(jobId) ?? new Map<number, Progress>();
      jobs.set(jobId, attempts.set(attempt, progress));
      for (const listener of listeners) listener(jobId, attempt, progress);
    },
    of: (jobId) => jobs.get(jobId) ?? new Map(),
    onProgress(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    forget: (jobId) => void jobs.delete(jobId),
  };
}
