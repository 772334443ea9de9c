// Room for a job before it begins: the granary holds its grains and the joined file, the destination the deliverable.
// A disk that is full in the middle of the night helps nobody.
import type { JobEvent } from '../state/job-events.ts';
import type { JobRecord } from '../state/job-record.ts';

export type SpaceLooks = {
  readonly granaryFree: () => Promise<number>;
  /** Free bytes at the deliverable's place; null when the system doesn't tell. */
  readonly destinationFree: (deliverable: string) => Promise<number | null>;
  /** Bytes that jobs already at work will still write into the granary. */
  readonly promised: () => number;
};

/** The event that holds the job for want of space, or null. */
export async function spaceProblem(record: JobRecord, looks: SpaceLooks): Promise<JobEvent | null> {
  const bytes = record.plan?.estimatedBytes ?? 0;
  const granary = (await looks.granaryFree()) - looks.promised();
  if (granary < 2 * bytes)
    return held(
      `the coordinator's data folder has ${megabytes(granary)} MB free and this job may need ${megabytes(2 * bytes)} MB; make room or move the data folder, then retry`,
    );
  const destination = await looks.destinationFree(record.deliverable);
  if (destination !== null && destination < bytes)
    return held(
      `the destination has ${megabytes(destination)} MB free and the deliverable may need ${megabytes(bytes)} MB; make room there, then retry`,
    );
  return null;
}

/** Grains and joined file of jobs that have begun and aren't delivered, less what they have stored. */
export function promisedBytes(records: readonly JobRecord[]): number {
  return records.reduce((sum, record) => {
    if (record.state !== 'encoding' && record.state !== 'joining') return sum;
    const stored = record.grains.values().reduce((bytes, grain) => bytes + grain.bytes, 0);
    return sum + Math.max(0, 2 * (record.plan?.estimatedBytes ?? 0) - stored);
  }, 0);
}

function held(message: string): JobEvent {
  return { type: 'held', reason: { code: 'no-space', message, stage: 'plan', details: {} } };
}

function megabytes(bytes: number): number {
  return Math.floor(Math.max(0, bytes) / 1e6);
}
