// The forecast: missing frames over measured rates, one job after another, and `unknown` where nothing was measured.
import { expect, test } from 'vitest';
import type { Machine } from '#shared/job.ts';
import type { Progress } from '#shared/link.ts';
import { viewForecast } from '../../../../coordinator/api/views/forecast-view.ts';
import type { JobRecord } from '../../../../coordinator/state/job-record.ts';
import { sampleMachine } from '../../../support/api/sample-machine.ts';
import { receivedEvent } from '../../../support/job-builders.ts';
import { storyUpTo, tell } from '../../../support/job-story.ts';

const nowMs = Date.parse('2026-01-02T00:00:00Z');

/** A lane that does 2 frames/s at 320×180, the size of the sample plan. */
const machine = (changes: Partial<Machine> = {}): Machine => {
  const [lane] = sampleMachine().lanes;
  if (!lane) throw new Error('the sample machine has a lane');
  const rates = { 'sample@3': { framesPerSecond: 9, megapixelsPerSecond: (2 * 320 * 180) / 1e6 } };
  return sampleMachine({ lanes: [{ ...lane, rates }], ...changes });
};

function forecast(jobs: JobRecord[], machines: Machine[], progress: Record<string, Progress> = {}) {
  const progressOf = (id: string) => new Map(progress[id] ? [[2, progress[id]]] : []);
  return viewForecast({ jobs, machines, progressOf, nowMs });
}

const planned = tell(storyUpTo('inspected').concat(storyUpTo('encoding').slice(2, 3)));
const encoding = { ...tell(storyUpTo('encoding')), id: 'jsample002' };

test('a job that nobody has looked at is not guessed at', () => {
  const { jobs, secondsLeft, encodedAt } = forecast([tell([], receivedEvent())], [machine()]);
  expect(jobs).toMatchObject([{ framesLeft: null, basis: 'unknown', secondsLeft: null, encodedAt: null }]);
  expect([secondsLeft, encodedAt]).toEqual([null, null]);
});

test('a running job is judged by what its encoders do now', () => {
  const { jobs, encodedAt } = forecast([encoding], [machine()], { jsample002: { frames: 60, seconds: 5 } });
  expect(jobs).toMatchObject([{ framesLeft: 240, framesPerSecond: 12, basis: 'measured', secondsLeft: 20 }]);
  expect(encodedAt).toBe('2026-01-02T00:00:20.000Z');
});

test('a waiting job follows the running one, at the calibrated rate of the living machines', () => {
  const machines = [
    machine(),
    machine({ name: 'south' }),
    machine({ alive: false }),
    machine({ encodePlaces: 0 }),
  ];
  const { jobs, secondsLeft } = forecast([encoding, planned], machines, {
    jsample002: { frames: 60, seconds: 5 },
  });
  expect(jobs[1]?.framesPerSecond).toBeCloseTo(4, 9);
  expect(jobs[1]).toMatchObject({ basis: 'calibrated', framesLeft: 240 });
  expect(jobs[1]?.secondsLeft).toBeCloseTo(80, 9);
  expect(secondsLeft).toBeCloseTo(80, 9);
});

test('behind a job of unknown length nothing is known', () => {
  const unknown = { ...tell([], receivedEvent()), id: 'jsample003' };
  const { jobs, secondsLeft } = forecast([unknown, planned], [machine()]);
  expect(jobs.map((job) => job.secondsLeft)).toEqual([null, null]);
  expect(secondsLeft).toBeNull();
});

test('lanes of another kind than the job’s grains are not counted', () => {
  const other = { ...planned, stitchClass: 'another@1' };
  expect(forecast([other], [machine()]).jobs).toMatchObject([{ basis: 'unknown' }]);
});

test('a job that is encoded needs no more time', () => {
  expect(forecast([tell(storyUpTo('checking'))], []).jobs).toMatchObject([{ framesLeft: 0, secondsLeft: 0 }]);
});
