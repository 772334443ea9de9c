// What the progress line says, and how seldom it is said where it can't be redrawn.
import { expect, test } from 'vitest';
import type { Report } from '#shared/job.ts';
import { viewReport } from '../../../../coordinator/api/views/report-view.ts';
import { createProgressMeter, describeProgress } from '../../../../coordinator/cli/progress-meter.ts';
import { recordingTerminal } from '../../../support/cli/recording-terminal.ts';
import { storyUpTo, tell } from '../../../support/job-story.ts';

/** The sample job of 240 frames; `frames` of attempt 2 went through its encoder in 5 s. */
function report(state: Parameters<typeof storyUpTo>[0], frames?: number): Report {
  const progress = new Map(frames === undefined ? [] : [[2, { frames, seconds: 5 }]]);
  const told = viewReport(tell(storyUpTo(state)), { progress, versions: {}, machines: [] });
  return { ...told, waitingFor: null };
}

test('one job: state, frames, share, speed and what is left', () => {
  expect(describeProgress([report('encoding', 120)])).toBe(
    'encoding  120 of 240 frames, 50 %, 24.0 frames/s, 5 s left',
  );
});

test('before the source was looked at there is nothing to count', () => {
  expect(describeProgress([report('received')])).toBe('received');
});

test('what nobody works on says why', () => {
  const waiting = { ...report('received'), waitingFor: 'no machine reads it' };
  expect(describeProgress([waiting, waiting])).toBe(
    'received  0 of 2 jobs done, waiting: no machine reads it',
  );
});

test('before the first frame there is no speed to tell', () => {
  expect(describeProgress([report('encoding')])).toBe('encoding  0 of 240 frames, 0 %');
});

test('several jobs: how many are done, and no time while one is unknown', () => {
  expect(describeProgress([report('delivered'), report('encoding', 120), report('received')])).toBe(
    'encoding, received  1 of 3 jobs done, 360 of 480 frames, 75 %, 24.0 frames/s',
  );
});

test('where nothing can be redrawn, a line comes with each step and now and then', () => {
  let nowMs = 0;
  const terminal = recordingTerminal();
  const meter = createProgressMeter(terminal, () => nowMs);
  for (const [atMs, shown] of [
    [0, report('encoding')],
    [100, report('encoding', 24)],
    [14_000, report('encoding', 48)],
    [16_000, report('encoding', 72)],
    [16_100, report('checking')],
  ] as const) {
    nowMs = atMs;
    meter.show([shown]);
  }
  expect(terminal.told.map((line) => line.split(',')[0])).toEqual([
    'encoding  0 of 240 frames',
    'encoding  72 of 240 frames',
    'checking  240 of 240 frames',
  ]);
});

test('on a screen one line is redrawn and taken away at the end', () => {
  const drawn: string[] = [];
  const terminal = recordingTerminal({ redraw: (line) => void drawn.push(line) });
  const meter = createProgressMeter(terminal, () => 0);
  meter.show([report('encoding', 120)]);
  meter.show([report('checking')]);
  meter.clear();
  expect(drawn.map((line) => line.split(' ')[0])).toEqual(['encoding', 'checking', '']);
  expect(terminal.told).toEqual([]);
});
