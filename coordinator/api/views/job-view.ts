// A job's record as editors see it.
import type { JobDetail, JobSummary } from '#shared/job.ts';
import { grainCount } from '#shared/plan.ts';
import type { JobRecord } from '../../state/job-record.ts';
import { type ProgressByAttempt, viewSegments } from './segment-view.ts';

export function viewJobSummary(record: JobRecord): JobSummary {
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

export function viewJobDetail(record: JobRecord, progress: ProgressByAttempt): JobDetail {
  return {
    ...viewJobSummary(record),
    facts: record.facts,
    plan: record.plan,
    segments: viewSegments(record, progress),
    grains: { stored: record.grains.size, total: record.plan === null ? null : grainCount(record.plan) },
    checks: [...record.checks],
    failures: [...record.failures],
    fallback: record.fallback,
  };
}

/** The failure that keeps a job from going on; null for jobs that work or are delivered. */
export function standingFailure(record: JobRecord): JobRecord['failures'][number] | null {
  return record.state === 'held' || record.state === 'failed' ? (record.failures.at(-1) ?? null) : null;
}

/** Frames of the grid whose grains are stored. */
export function storedFrames(record: JobRecord): number {
  return record.grains.values().reduce((sum, grain) => sum + grain.frames, 0);
}
