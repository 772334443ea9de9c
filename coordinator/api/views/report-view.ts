// The report of a job: what was made of which source, by whom, and how it was checked.
import type { Machine, Report } from '#shared/job.ts';
import { formatRational } from '#shared/rational.ts';
import { standingFailure } from '../../ledger/job-summary.ts';
import type { JobRecord } from '../../state/job-record.ts';
import { type ProgressByAttempt, viewSegments } from './segment-view.ts';
import { waitingFor } from './waiting-view.ts';

export type ReportContext = {
  readonly progress: ProgressByAttempt;
  /** Versions of the programs that took part, by name. */
  readonly versions: Readonly<Record<string, string>>;
  readonly machines: readonly Machine[];
};

/** `deliverable`, `bytes` and `hash` are those of the delivered file, so null until it is there (N6). */
export function viewReport(record: JobRecord, context: ReportContext): Report {
  const { delivered, format, plan } = record;
  return {
    source: record.submission.source,
    state: record.state,
    deliverable: delivered === null ? null : record.deliverable,
    format: { name: format.name, version: format.version },
    frames: plan?.frames ?? null,
    rate: plan === null ? null : formatRational(plan.rate),
    bytes: delivered?.bytes ?? null,
    hash: delivered === null ? null : `${delivered.hash.algorithm}:${delivered.hash.hex}`,
    segments: viewSegments(record, context.progress),
    grains: record.grains.size,
    fallback: record.fallback,
    checks: [...record.checks],
    notes: notesOf(record),
    versions: { ...context.versions },
    waitingFor: waitingFor(record, context.machines),
    error: standingFailure(record),
  };
}

/**
 * Text of the report file that goes to the destination together with the deliverable, so it tells the job as it is once
 * both are there. Null when the format wants none.
 */
export function reportBeside(record: JobRecord, context: ReportContext): string | null {
  if (record.format.report !== 'beside' || record.joined === null) return null;
  const report = viewReport({ ...record, state: 'delivered', delivered: record.joined }, context);
  return `${JSON.stringify(report, null, 2)}\n`;
}

/** What a person should know of the source, the plan and the wrapper; each said once. */
function notesOf(record: JobRecord): string[] {
  const whole = record.plan?.wholeBecause ?? null;
  const made = whole === null ? [] : [`made in one piece: ${whole}`];
  return [
    ...new Set([
      ...(record.facts?.warnings ?? []),
      ...(record.plan?.notes ?? []),
      ...made,
      ...record.dropped,
    ]),
  ];
}
