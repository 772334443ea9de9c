// The check `sound-offset`: what is heard at head, middle and tail, and the limits of EBU R 37.
import { describe, expect, it } from 'vitest';
import { checkSoundOffset } from '../../../../../agent/media/check/sound-offset.ts';
import {
  type Heard,
  listen,
  listeningRate,
  listeningRegions,
} from '../../../../../agent/media/check/sound-places.ts';

function noise(length: number, seed: number): Float32Array {
  let state = seed;
  return Float32Array.from({ length }, () => {
    state = (state * 48_271) % 2_147_483_647;
    return state / 2_147_483_647 - 0.5;
  });
}

/** `seconds` later; silence moves in. */
function later(sound: Float32Array, seconds: number): Float32Array {
  const shift = Math.round(seconds * listeningRate);
  return Float32Array.from(sound, (_, i) => sound[i - shift] ?? 0);
}

const sound = noise(3 * listeningRate, 11);

describe('what is heard', () => {
  it.each([0, 0.004, 0.03, -0.03, 0.2])('is a shift of %f s', (seconds) => {
    expect(listen('head', sound, later(sound, seconds))).toMatchObject({
      kind: 'clear',
      offsetSeconds: expect.closeTo(seconds, 4),
    });
  });

  it('is found in the only loud piece of a long silence', () => {
    const mostlySilent = new Float32Array(12 * listeningRate);
    mostlySilent.set(sound.subarray(0, 2 * listeningRate), 7 * listeningRate);
    expect(listen('tail', mostlySilent, later(mostlySilent, 0.03))).toMatchObject({
      kind: 'clear',
      offsetSeconds: expect.closeTo(0.03, 4),
    });
  });

  it('is silence below −70 dB of full scale', () => {
    const quiet = sound.map((sample) => sample * 1e-4);
    expect(listen('head', quiet, quiet)).toEqual({ place: 'head', kind: 'silent' });
  });

  it('is nothing to hold on to in a steady tone', () => {
    const tone = Float32Array.from(
      { length: 4 * listeningRate },
      (_, i) => 0.3 * Math.sin((2 * Math.PI * 440 * i) / listeningRate),
    );
    expect(listen('head', tone, tone)).toMatchObject({
      kind: 'periodic',
      offsetSeconds: expect.closeTo(0, 2),
    });
  });

  it('is another sound when nothing agrees', () => {
    expect(listen('head', sound, noise(sound.length, 12))).toMatchObject({ kind: 'unlike' });
    expect(listen('head', sound, new Float32Array())).toMatchObject({ kind: 'unlike' });
  });

  it('is too little in a few milliseconds', () => {
    expect(listen('head', sound.subarray(0, 100), sound.subarray(0, 100))).toEqual({
      place: 'head',
      kind: 'too-short',
    });
  });
});

describe('the places', () => {
  it('are twenty seconds at head, middle and tail of a long film', () => {
    expect(
      listeningRegions(0, 7200).map(({ first, end }) => [first / listeningRate, end / listeningRate]),
    ).toEqual([
      [0, 20],
      [3590, 3610],
      [7180, 7200],
    ]);
  });

  it('are the thirds of a short one', () => {
    expect(
      listeningRegions(0.5, 3.5).map(({ first, end }) => [first / listeningRate, end / listeningRate]),
    ).toEqual([
      [0.5, 1.5],
      [1.5, 2.5],
      [2.5, 3.5],
    ]);
  });
});

describe('the limits', () => {
  const heard = (...seconds: readonly number[]): Heard[] =>
    seconds.map((offsetSeconds) => ({ place: 'head', kind: 'clear', offsetSeconds, likeness: 1 }));
  const check = (list: readonly Heard[], startDifferenceSeconds = 0) =>
    checkSoundOffset([{ track: 1, heard: list, startDifferenceSeconds }]);

  // EBU R 37: 5 ms and 15 ms for a production step.
  it('pass up to 5 ms without a word', () => {
    expect(check(heard(0, 0.005, -0.005))).toMatchObject({ ok: true });
    expect(check(heard(0, 0.005)).note).toBeUndefined();
  });

  it('pass up to 15 ms with a note', () => {
    expect(check(heard(0, 0.01))).toMatchObject({ ok: true, note: 'track 1: more than 5 ms off' });
  });

  it.each([0.0151, -0.0151, 0.03])('fail at %f s, at one place of three', (seconds) => {
    expect(check(heard(0, 0, seconds)).ok).toBe(false);
  });

  it('fail on another sound', () => {
    expect(
      check([...heard(0, 0), { place: 'tail', kind: 'unlike', offsetSeconds: 0, likeness: 0.1 }]).ok,
    ).toBe(false);
  });

  it('turn to the timestamps where nothing can be placed, and say so', () => {
    const silence: Heard[] = [{ place: 'head', kind: 'silent' }];
    expect(check(silence)).toMatchObject({
      ok: true,
      note: 'track 1: no sound that can be placed; the start time is 0.0 ms off',
    });
    expect(check(silence, 0.04).ok).toBe(false);
  });

  it('say so when there is no sound', () => {
    expect(checkSoundOffset([])).toMatchObject({ ok: true, measured: 'no sound track' });
  });
});
