// Takes a job's pieces out of the granary when nobody will need them again. Nothing but the job's own folder there is
// ever deleted; sources and deliverables are not ours to touch (N5, N6).
import type { JobState } from '#shared/job.ts';
import type { JobBook } from '../ledger/job-book.ts';
import type { JobRecord } from '../state/job-record.ts';
import type { Granary } from './granary.ts';

/** A held job keeps its pieces for the person who will look at it. */
const over: readonly JobState[] = ['delivered', 'failed', 'cancelled'];

/** Answers whether the job's work is over. Deleting goes on in the background. */
export function sweepRestingJobs(
  record: JobRecord,
  granary: Granary,
  reportFault: (error: unknown) => void,
): boolean {
  if (!over.includes(record.state)) return false;
  granary.sweepJob(record.id).catch(reportFault);
  return true;
}

/** What was under way to the granary when its job ended lands after the sweep, and nobody reports it any more. */
export async function sweepLatecomers(book: Pick<JobBook, 'get'>, granary: Granary): Promise<void> {
  for (const jobId of await granary.jobs()) {
    const state = book.get(jobId)?.state;
    if (state !== undefined && over.includes(state)) await granary.sweepJob(jobId);
  }
}
