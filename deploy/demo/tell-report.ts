// The report of a job as the demo prints it: what was made of what, by whom, how it was checked, and how long it took.
import type { Report } from '#shared/job.ts';
import { formatSeconds } from './draw-films.ts';

export type Told = {
  readonly report: Report;
  /** From the moment it was received to the moment it was delivered. */
  readonly seconds: number;
  /** Where the deliverable lies on this machine; null when there is none. */
  readonly file: string | null;
};

export function tellReport({ report, seconds, file }: Told): string[] {
  const { format, source, state, frames, rate, grains, bytes, segments, checks, notes, error } = report;
  const figures = frames === null ? [] : [`${frames} at ${rate} frames/s, in ${grains} grains`];
  return [
    `${format.name}, version ${format.version}: ${state} after ${formatSeconds(seconds)}`,
    ...part('source', [source]),
    ...part(
      'deliverable',
      file === null ? ['none'] : [file, `${(Number(bytes) / 1e6).toFixed(1)} MB, ${report.hash}`],
    ),
    ...part('frames', figures),
    ...part('made by', byMachine(segments)),
    ...part('checks', describeChecks(checks)),
    ...part('notes', notes),
    ...part('failed', error === null ? [] : [error.message]),
  ];
}

/** What each machine made of it: its stored frames, its leases in order. */
function byMachine(segments: Report['segments']): string[] {
  const names = [...new Set(segments.map(({ machine }) => machine))];
  return align(
    names.map((name) => {
      const own = segments.filter(({ machine }) => machine === name);
      const frames = own.reduce((sum, { framesDone }) => sum + framesDone, 0);
      const ranges = own.map(
        ({ first, end, state }) => `${first}–${end - 1}${state === 'done' ? '' : ` (${state})`}`,
      );
      return [name, `${frames} frames`, ranges.join(', ')];
    }),
  );
}

/** Two lines each: limits are sentences, too. */
function describeChecks(checks: Report['checks']): string[] {
  const width = Math.max(0, ...checks.map(({ name }) => name.length)) + 2;
  return checks.flatMap(({ name, ok, measured, limit }) => [
    `${name.padEnd(width)}${ok ? 'good' : 'NOT GOOD'}: ${measured}`,
    `${' '.repeat(width)}required: ${limit}`,
  ]);
}

function part(title: string, lines: readonly string[]): string[] {
  return lines.map((line, index) => `  ${(index === 0 ? title : '').padEnd(12)} ${line}`);
}

function align(rows: readonly (readonly string[])[]): string[] {
  const widths = (rows[0] ?? []).map((_, column) => Math.max(...rows.map((row) => row[column]?.length ?? 0)));
  return rows.map((row) =>
    row
      .map((cell, column) => cell.padEnd(widths[column] ?? 0))
      .join('  ')
      .trimEnd(),
  );
}
