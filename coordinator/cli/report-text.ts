// The report of a job as text: what was made, by whom, how it was checked, and what is wrong if something is.
import type { Report } from '#shared/job.ts';
import { printable } from './display.ts';
import { count, formatBytes } from './figures.ts';
import { type Column, formatTable } from './table.ts';

type Check = Pick<Report['checks'][number], 'name' | 'ok' | 'measured' | 'limit'>;
type Segment = Report['segments'][number];

/** What a report needs to be told: those of `once` have local paths and fewer figures. */
export type ReportText = Pick<
  Report,
  'source' | 'state' | 'deliverable' | 'frames' | 'grains' | 'fallback' | 'segments'
> & {
  readonly checks: readonly Check[];
  readonly error: { readonly message: string } | null;
  readonly bytes?: number | null;
  readonly notes?: readonly string[];
};

export const segmentColumns: readonly Column<Segment>[] = [
  { title: 'machine', value: (segment) => segment.machine },
  { title: 'lane', value: (segment) => segment.lane },
  { title: 'first', value: (segment) => segment.first, right: true },
  { title: 'end', value: (segment) => segment.end, right: true },
  { title: 'frames', value: (segment) => segment.framesDone, right: true },
  { title: 'grains', value: (segment) => segment.grainsStored, right: true },
  { title: 'frames/s', value: (segment) => segment.framesPerSecond?.toFixed(1) ?? null, right: true },
  { title: 'ended', value: (segment) => (segment.state === 'open' ? 'at work' : segment.state) },
];

export const checkColumns: readonly Column<Check>[] = [
  { title: 'check', value: (check) => check.name },
  { title: 'result', value: (check) => (check.ok ? 'good' : 'NOT GOOD') },
  { title: 'measured', value: (check) => check.measured },
  { title: 'required', value: (check) => check.limit },
];

export function formatReport(report: ReportText, columns: number): string[] {
  const lines = [printable(report.source), `  ${describeResult(report)}`];
  if (report.error !== null) lines.push(`  ${printable(report.error.message)}`);
  if (report.fallback !== 'none') lines.push(`  ${fallbackWords[report.fallback]}`);
  for (const note of report.notes ?? []) lines.push(`  note: ${printable(note)}`);
  const indent = (line: string) => `  ${line}`;
  if (report.segments.length > 0)
    lines.push('', ...formatTable(segmentColumns, report.segments, columns - 2).map(indent));
  if (report.checks.length > 0)
    lines.push('', ...formatTable(checkColumns, report.checks, columns - 2).map(indent));
  return lines;
}

const fallbackWords = {
  join: 'a check found fault, and the file was joined again',
  grains: 'a check found fault with some grains, and they were made again',
  whole: 'a check found fault, and the whole was made again by one lane',
} as const;

function describeResult({ state, deliverable, frames, grains, bytes }: ReportText): string {
  const made = frames === null ? [] : [count(frames, 'frame'), count(grains, 'grain')];
  const size = typeof bytes === 'number' ? [formatBytes(bytes)] : [];
  const figures = [...made, ...size].join(', ');
  const where = deliverable === null ? '' : ` as ${printable(deliverable)}`;
  return `${state}${where}${figures === '' ? '' : `: ${figures}`}`;
}
