import { describe, expect, test } from 'vitest';
import { rational } from '#shared/rational.ts';
import { listKeyframes } from '../../../../../agent/media/facts/keyframe-list.ts';
import { simplestBetween } from '../../../../../agent/media/facts/simple-fraction.ts';
import {
  cutVerdict,
  pickTrialKeyframes,
  picturesOfTrials,
  referenceFor,
  type TrialInput,
  trialAt,
  trialLeads,
} from '../../../../../agent/media/facts/trial-plan.ts';

/** A film of 25 frames/s on a clock of 1/1000 s with a keyframe every `gop` pictures; `start` in ticks. */
function film(
  frames: number,
  gop: number,
  more: { start?: number; codec?: string; container?: number } = {},
): TrialInput {
  const pts = Float64Array.from({ length: frames }, (_, k) => (more.start ?? 0) + k * 40);
  const keyTicks = pts.filter((_, k) => k % gop === 0);
  return {
    keyframes: listKeyframes(more.codec ?? 'h264', pts, keyTicks),
    pts,
    timeBase: rational(1, 1000),
    containerStart: rational(more.container ?? 0, 1000),
    demuxer: 'matroska,webm',
    leading: 0,
  };
}

const framesOf = (input: TrialInput) =>
  pickTrialKeyframes(input).map((index) => input.keyframes.at(index).frame);

describe('where cuts are tried', () => {
  test('at a third, two thirds and near the end, ten pictures before it', () => {
    expect(framesOf(film(1000, 50))).toEqual([300, 600, 950]);
    expect(framesOf(film(1005, 50))).toEqual([300, 600, 950]);
  });

  test('never at the first keyframe, and each place once', () => {
    expect(framesOf(film(75, 48))).toEqual([48]);
    expect(framesOf(film(52, 50))).toEqual([50]);
    expect(framesOf(film(200, 1000))).toEqual([]);
  });

  test('anywhere in a film of keyframes only', () => {
    expect(framesOf(film(250, 1, { codec: 'prores' }))).toEqual([120, 240]);
    expect(framesOf(film(2, 1, { codec: 'prores' }))).toEqual([1]);
    expect(framesOf(film(1, 1, { codec: 'prores' }))).toEqual([]);
  });
});

describe('a trial', () => {
  const input = film(1000, 50, { start: 1400, container: 1400 - 25 });

  test('reads from its keyframe or the ones before, and keeps pictures from half a picture before the wanted one', () => {
    const trial = trialAt(input, { index: 6, lead: 0, toEnd: false });
    expect(trial).toMatchObject({ frame: 300, seekSeconds: '12.025000', startTicks: 1400 + 12_000 - 19 });
    expect(trialAt(input, { index: 6, lead: 2, toEnd: false })).toMatchObject({
      frame: 300,
      seekSeconds: '8.025000',
    });
    expect(trialAt(input, { index: 1, lead: 2, toEnd: false }).seekSeconds).toBe('0.025000');
  });

  test('seconds are rounded up to the microsecond, so that the keyframe itself is reached', () => {
    const thirds: TrialInput = { ...film(10, 3), timeBase: rational(1, 3000) };
    // 120 / 3000 s is exact; 40 ticks of 1/3000 s are 13.333… ms.
    expect(
      trialAt({ ...thirds, containerStart: rational(2, 3000) }, { index: 1, lead: 0, toEnd: true })
        .seekSeconds,
    ).toBe('0.039334');
  });

  test('at the container’s start reads from the head', () => {
    expect(trialAt(film(100, 10), { index: 1, lead: 1, toEnd: false }).seekSeconds).toBeNull();
  });

  test('in a film of keyframes only aims half a picture early, as an encoder does', () => {
    const intra = film(250, 1, { codec: 'prores' });
    expect(trialAt(intra, { index: 120, lead: 0, toEnd: false })).toMatchObject({
      frame: 120,
      seekSeconds: '4.780000',
      startTicks: 4781,
    });
    expect(trialLeads(intra)).toEqual([0]);
  });

  test('leads by one keyframe at the least where cuts at keyframes work by chance', () => {
    expect(trialLeads(film(100, 10))).toEqual([0, 1, 2]);
    expect(trialLeads({ ...film(100, 10), demuxer: 'mpegts' })).toEqual([1, 2, 3]);
    expect(trialLeads({ ...film(100, 10), leading: 4 })).toEqual([1, 2, 3]);
  });

  test('its reference begins many keyframes earlier, or at the head', () => {
    expect(referenceFor(input, 5)).toBeNull();
    expect(referenceFor(input, 10)).toBe('10.025000');
  });
});

describe('the verdict', () => {
  const { keyframes } = film(1000, 50);
  const trial = (leadKeyframes: number, same: boolean) => ({
    frame: 300,
    leadKeyframes,
    picturesCompared: 10,
    same,
  });

  test('takes the first lead at which every trial was right', () => {
    expect(cutVerdict(keyframes, [trial(0, true), trial(0, true)])).toMatchObject({
      verdict: 'keyframes',
      leadKeyframes: 0,
    });
    const led = cutVerdict(keyframes, [trial(0, true), trial(0, false), trial(1, true), trial(1, true)]);
    expect(led).toMatchObject({ verdict: 'keyframes', leadKeyframes: 1 });
    expect(led.trials).toHaveLength(4);
  });

  test('is the head where no lead helps or nothing can be tried', () => {
    const wrong = cutVerdict(keyframes, [trial(0, false), trial(1, false), trial(2, false)]);
    expect(wrong).toMatchObject({ verdict: 'head-only', reason: expect.stringContaining('frame 300') });
    expect(cutVerdict(film(200, 1000).keyframes, [])).toMatchObject({ verdict: 'head-only' });
  });

  test('is anywhere for keyframes only, unless a trial failed', () => {
    const intra = film(250, 1, { codec: 'prores' }).keyframes;
    expect(cutVerdict(intra, [trial(0, true)])).toMatchObject({ verdict: 'anywhere' });
    expect(cutVerdict(intra, [trial(0, false)])).toMatchObject({ verdict: 'head-only' });
    expect(cutVerdict(film(1, 1).keyframes, [])).toMatchObject({ verdict: 'anywhere' });
  });
});

test('the cost of trials is known before: references, cuts and the tail', () => {
  // Places 300, 600, 950 of keyframes 6, 12, 19; references begin five keyframes earlier.
  expect(picturesOfTrials(film(1000, 50))).toBe(3 * (250 + 10) + 3 * 10 + 50);
  expect(picturesOfTrials(film(200, 1000))).toBe(0);
});

test('the simplest fraction in an interval has the smallest denominator', () => {
  for (const [low, high] of [
    [0.3, 0.35],
    [41.7, 41.72],
    [2.5143, 2.5144],
    [1000, 1000],
    [0.001, 0.0011],
  ] as const) {
    const found = simplestBetween(low, high);
    expect(found).not.toBeNull();
    const { num, den } = found ?? rational(0);
    expect(num / den).toBeGreaterThanOrEqual(low);
    expect(num / den).toBeLessThanOrEqual(high);
    for (let smaller = 1; smaller < den; smaller += 1)
      expect(Math.ceil(low * smaller) / smaller).toBeGreaterThan(high);
  }
});
