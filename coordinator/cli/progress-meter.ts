// Shows how far jobs are: one line that is redrawn on a screen; elsewhere a line for each step, and now and then one
// in a long step.
import type { Report } from '#shared/job.ts';
import { isAtRest } from './at-rest.ts';
import { count, formatDuration, formatRate } from './figures.ts';
import type { Terminal } from './terminal.ts';

export type ProgressMeter = {
  show(reports: readonly Report[]): void;
  /** Takes the redrawn line away, so that other text can follow. */
  clear(): void;
};

const sparseMs = 15_000;

export function createProgressMeter(terminal: Terminal, clock: () => number): ProgressMeter {
  const { redraw } = terminal;
  if (redraw) return { show: (reports) => redraw(describeProgress(reports)), clear: () => redraw('') };
  let lastSteps = '';
  let lastMs = clock();
  return {
    show(reports) {
      const steps = reports.map((report) => report.state).join();
      if (steps === lastSteps && clock() - lastMs < sparseMs) return;
      lastSteps = steps;
      lastMs = clock();
      terminal.err(describeProgress(reports));
    },
    clear: () => {},
  };
}

/** `encoding  120 of 240 frames, 50 %, 24.0 frames/s, 5 s left`; of several jobs also how many are done. */
export function describeProgress(reports: readonly Report[]): string {
  const working = reports.filter((report) => !isAtRest(report));
  const resting = reports.length - working.length;
  const states = [...new Set((working.length > 0 ? working : reports).map((report) => report.state))].join(
    ', ',
  );
  const finished = reports.length > 1 ? [`${resting} of ${count(reports.length, 'job')} done`] : [];
  const waits = [...new Set(working.flatMap((report) => report.waitingFor ?? []))];
  const waiting = waits.length === 0 ? [] : [`waiting: ${waits.join('; ')}`];
  const parts = [...finished, ...describeFrames(reports), ...waiting].join(', ');
  return parts === '' ? states : `${states}  ${parts}`;
}

function describeFrames(reports: readonly Report[]): string[] {
  const total = sum(reports.map((report) => report.frames ?? 0));
  if (total === 0) return [];
  const done = sum(reports.map(framesDone));
  const parts = [`${done} of ${total} frames`, `${Math.floor((100 * done) / total)} %`];
  const encoding = reports.filter((report) => report.state === 'encoding');
  const open = encoding.flatMap((report) => report.segments.filter((segment) => segment.state === 'open'));
  const speed = sum(open.map((segment) => segment.framesPerSecond ?? 0));
  if (speed === 0) return parts;
  // Of a source that nobody has looked at yet, nobody knows how long it takes.
  const known = reports.every((report) => isAtRest(report) || report.frames !== null);
  return [...parts, formatRate(speed), ...(known ? [`${formatDuration((total - done) / speed)} left`] : [])];
}

/** Frames encoded so far; what was made twice counts once. */
function framesDone({ frames, segments, state }: Report): number {
  if (state === 'joining' || state === 'checking' || state === 'delivered') return frames ?? 0;
  return Math.min(frames ?? 0, sum(segments.map((segment) => segment.framesDone)));
}

function sum(numbers: readonly number[]): number {
  return numbers.reduce((total, number) => total + number, 0);
}
