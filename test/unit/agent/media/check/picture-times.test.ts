// The check `time`: every presentation time is k / rate to the wrapper's resolution, decode times rise (N2).
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { divide, multiply, rational, scaleInteger } from '#shared/rational.ts';
import type { PicturePacket } from '../../../../../agent/media/check/picture-packets.ts';
import { type TimesExpected, watchPictureTimes } from '../../../../../agent/media/check/picture-times.ts';

const film: TimesExpected = {
  rate: rational(24000, 1001),
  frames: 8,
  timeBase: rational(1, 24000),
  start: rational(0),
  wrapper: 'mp4',
};

/** Frames in decode order of a stream with two B pictures, one tick of dts a frame. */
const decodeOrder = [0, 3, 1, 2, 6, 4, 5, 7];

function packet(frame: number, place: number, change: Partial<PicturePacket> = {}): PicturePacket {
  return {
    pts: frame * 1001,
    dts: (place - 2) * 1001,
    bytes: 100,
    keyframe: frame === 0,
    presented: true,
    ...change,
  };
}

const packets = decodeOrder.map((frame, place) => packet(frame, place));

function check(list: readonly PicturePacket[], expected: TimesExpected = film) {
  const times = watchPictureTimes(expected);
  for (const one of list) times.add(one);
  return times.result();
}

describe('times on the grid', () => {
  it('pass in decode order', () => {
    expect(check(packets)).toMatchObject({ name: 'time', ok: true, frames: [] });
  });

  it('pass for every frame of every rate and clock, however the wrapper rounds', () => {
    const rates = [
      [24000, 1001],
      [25, 1],
      [30000, 1001],
      [60000, 1001],
      [2997, 125],
      [1_000_000, 66_667],
      [120, 1],
    ] as const;
    fc.assert(
      fc.property(
        fc.constantFrom(...rates),
        fc.integer({ min: 0, max: 5000 }),
        fc.integer({ min: 1, max: 400 }),
        (rate, ms, frames) => {
          const grid = {
            rate: rational(rate[0], rate[1]),
            timeBase: rational(1, 1000),
            start: rational(ms, 1000),
            frames,
            wrapper: 'mkv' as const,
          };
          // Matroska's clock, rounded as RFC 9559 has it: to the nearest millisecond.
          const list = Array.from({ length: frames }, (_, k) => {
            const pts =
              ms + scaleInteger(k, multiply(divide(rational(1), grid.rate), rational(1000)), 'nearest');
            return packet(k, k, { pts, dts: null });
          });
          expect(check(list, grid)).toMatchObject({ ok: true });
        },
      ),
    );
  });
});

describe('times off the grid', () => {
  it('a dropped picture is named', () => {
    expect(check(packets.filter((one) => one.pts !== 5 * 1001))).toMatchObject({ ok: false, frames: [5] });
  });

  it('a doubled picture is named', () => {
    const doubled = [...packets, packet(5, 8)];
    expect(check(doubled)).toMatchObject({ ok: false, frames: [5], measured: '1 time is repeated' });
  });

  it('a single tick too much is named', () => {
    // As measured: one step of 1025 instead of 1001 units at a seam of pieces whose lengths were not told.
    const late = packets.map((one) => (one.pts === 4 * 1001 ? { ...one, pts: one.pts + 24 } : one));
    expect(check(late)).toMatchObject({ ok: false, frames: [4], measured: '1 picture stands off the grid' });
  });

  it('decode times that stand still or step back are told', () => {
    const back = packets.map((one, i) => (i === 4 ? { ...one, dts: packets[3]?.dts ?? 0 } : one));
    expect(check(back)).toMatchObject({ ok: false, measured: '1 decode time does not rise' });
  });

  it('a picture that an edit list hides is told', () => {
    const hidden = packets.map((one, i) => (i === 0 ? { ...one, presented: false } : one));
    expect(check(hidden)).toMatchObject({ ok: false, frames: [0] });
  });

  it('a picture beyond the end is told', () => {
    expect(check([...packets, packet(8, 8)]).measured).toBe('1 picture stands outside the film');
  });

  it('a clock that cannot hold the rate is told, where the wrapper could have chosen another', () => {
    const coarse = { ...film, timeBase: rational(1, 1000) };
    const rounded = packets.map((one) => ({ ...one, pts: Math.round((one.pts ?? 0) / 24) }));
    expect(check(rounded, coarse)).toMatchObject({ ok: false });
    expect(check(rounded, { ...coarse, wrapper: 'mkv' })).toMatchObject({ ok: true });
  });
});
