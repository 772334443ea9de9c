// A job as lists show it, read off its record.
import type { Failure } from '#shared/failure.ts';
import type { JobSummary } from '#shared/job.ts';
import type { JobRecord } from '../state/job-record.ts';

export function summariseJob(record: JobRecord): JobSummary {
  return {
    id: record.id,
    batchId: record.batchId,
    state: record.state,
    source: record.submission.source,
    format: { name: record.format.name, version: record.format.version },
    deliverable: record.deliverable,
    priority: record.submission.priority,
    receivedAt: new Date(record.receivedMs).toISOString(),
    changedAt: new Date(record.changedMs).toISOString(),
    framesDone: storedFrames(record),
    framesTotal: record.plan?.frames ?? null,
    reason: standingFailure(record)?.message ?? null,
  };
}

/** The failure that keeps a job from going on; null for jobs that work, are delivered or were cancelled. */
export function standingFailure(record: JobRecord): Failure | null {
  return record.state === 'held' || record.state === 'failed' ? (record.failures.at(-1) ?? null) : null;
}

/** Frames of the grid whose grains are stored. */
export function storedFrames(record: JobRecord): number {
  return record.grains.values().reduce((sum, grain) => sum + grain.frames, 0);
}
