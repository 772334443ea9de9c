// Everything about one job, as editors see it.
import type { JobDetail, Machine } from '#shared/job.ts';
import { grainCount } from '#shared/plan.ts';
import { summariseJob } from '../../ledger/job-summary.ts';
import type { JobRecord } from '../../state/job-record.ts';
import { type ProgressByAttempt, viewSegments } from './segment-view.ts';
import { waitingFor } from './waiting-view.ts';

export type DetailContext = {
  readonly progress: ProgressByAttempt;
  readonly machines: readonly Machine[];
};

export function viewJobDetail(record: JobRecord, { progress, machines }: DetailContext): JobDetail {
  return {
    ...summariseJob(record),
    facts: record.facts,
    plan: record.plan,
    segments: viewSegments(record, progress),
    grains: { stored: record.grains.size, total: record.plan === null ? null : grainCount(record.plan) },
    checks: [...record.checks],
    failures: [...record.failures],
    fallback: record.fallback,
    waitingFor: waitingFor(record, machines),
  };
}
