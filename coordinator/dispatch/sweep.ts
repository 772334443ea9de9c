// Takes a job's pieces out of the granary when nobody will need them again. Nothing but the job's own folder there is
// ever deleted; sources and deliverables are not ours to touch (N5, N6).
import type { JobState } from '#shared/job.ts';
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
