import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  divide,
  parseRational,
  type Rational,
  type Rounding,
  rational,
  sameRational,
  scaleInteger,
  toNumber,
} from '#shared/rational.ts';
import { findTiming, type Timing } from '../../../../../agent/media/facts/picture-timing.ts';

const ratio = (text: string): Rational => parseRational(text) ?? rational(0);

/** Ticks of picture k of a constant rate, rounded to the clock. */
function evenTicks(track: { rate: Rational; timeBase: Rational; rounding: Rounding }, k: number): number {
  return scaleInteger(k, divide(divide(rational(1), track.rate), track.timeBase), track.rounding);
}

function timingOf(
  pts: readonly number[],
  timeBase: Rational,
  more: { declared?: Rational[]; exact?: boolean } = {},
): Timing {
  return findTiming({
    pts: Float64Array.from(pts),
    timeBase,
    declared: more.declared ?? [],
    exactTicks: more.exact ?? false,
    lastDuration: null,
  });
}

/** The promise of `constantRate`, in exact arithmetic and not as the product computes it. */
function withinHalfAFrame(pts: readonly number[], timeBase: Rational, rate: Rational): boolean {
  const [first = 0] = pts;
  const perFrame = {
    num: BigInt(timeBase.den) * BigInt(rate.den),
    den: BigInt(timeBase.num) * BigInt(rate.num),
  };
  return pts.every((time, k) => {
    const error = BigInt(time - first) * perFrame.den - BigInt(k) * perFrame.num;
    return 2n * (error < 0n ? -error : error) < perFrame.num;
  });
}

const standard = fc
  .constantFrom('24000/1001', '24', '25', '30000/1001', '30', '48', '50', '60000/1001', '60', '120')
  .map(ratio);
const odd = fc.constantFrom('2997/125', '1000000/66667', '14', '23', '30303/1000', '17/2').map(ratio);
const clock = fc
  .constantFrom('1/1000', '1/90000', '1/48000', '1/1000000', '1/600', '1/24000', '1/12800')
  .map(ratio);
const rounding = fc.constantFrom<Rounding>('floor', 'ceil', 'nearest');
const start = fc.constantFrom(0, 1, 7, -334_592, 8_589_934_592, 95_443 * 90_000, -9_000_000_000);
const frames = fc.integer({ min: 2, max: 700 });

describe('a constant rate', () => {
  test('is found through every rounding to a clock, wherever the track starts', () => {
    fc.assert(
      fc.property(
        fc.record({
          rate: fc.oneof(standard, odd),
          timeBase: clock,
          mode: rounding,
          first: start,
          count: frames,
        }),
        ({ rate, timeBase, mode, first, count }) => {
          const pts = Array.from(
            { length: count },
            (_, k) => first + evenTicks({ rate, timeBase, rounding: mode }, k),
          );
          const timing = timingOf(pts, timeBase, { declared: [rate] });
          expect(timing.constantRate).toBe(true);
          expect(withinHalfAFrame(pts, timeBase, timing.rate)).toBe(true);
          // The header's rate fits; only a standard rate that fits as well may be preferred to an odd one.
          const drift = count * Math.abs(toNumber(timing.rate) / toNumber(rate) - 1);
          expect(drift).toBeLessThan(0.25);
        },
      ),
    );
  });

  test('a standard rate that the header names is told exactly, however short the track', () => {
    fc.assert(
      fc.property(
        fc.record({ rate: standard, timeBase: clock, mode: rounding, first: start, count: frames }),
        ({ rate, timeBase, mode, first, count }) => {
          const pts = Array.from(
            { length: count },
            (_, k) => first + evenTicks({ rate, timeBase, rounding: mode }, k),
          );
          expect(timingOf(pts, timeBase, { declared: [rate] }).rate).toEqual(rate);
        },
      ),
    );
  });

  test('a standard rate is told exactly without the header once its neighbours would have drifted away', () => {
    fc.assert(
      fc.property(
        fc.record({ rate: standard, timeBase: clock, mode: rounding, first: start }),
        ({ rate, timeBase, mode, first }) => {
          // 30 and 30000/1001 part by a frame in 1000 frames.
          const pts = Array.from(
            { length: 2500 },
            (_, k) => first + evenTicks({ rate, timeBase, rounding: mode }, k),
          );
          expect(timingOf(pts, timeBase).rate).toEqual(rate);
        },
      ),
      { numRuns: 40 },
    );
  });

  test.each(['2997/125', '1000000/66667', '24000/1001', '25', '123/7'])(
    'tables that count ticks exactly give %s exactly',
    (text) => {
      const rate = ratio(text);
      const timeBase = rational(1, rate.num);
      const pts = Array.from({ length: 50 }, (_, k) => k * rate.den);
      expect(timingOf(pts, timeBase, { exact: true })).toMatchObject({
        constantRate: true,
        rate,
        lastDurationTicks: rate.den,
      });
    },
  );

  test('stays constant under jitter of a fifth of a frame', () => {
    const jitter = fc.array(fc.double({ min: -0.2, max: 0.2, noNaN: true }), {
      minLength: 60,
      maxLength: 300,
    });
    fc.assert(
      fc.property(
        fc.record({ rate: standard, offsets: jitter, first: start }),
        ({ rate, offsets, first }) => {
          const timeBase = rational(1, 90_000);
          const ticks = toNumber(divide(divide(rational(1), rate), timeBase));
          const pts = offsets.map((offset, k) => first + Math.round((k + offset) * ticks));
          const timing = timingOf(pts, timeBase, { declared: [rate] });
          expect(timing).toMatchObject({ constantRate: true, rate });
        },
      ),
    );
  });

  test('the header’s rate is kept when one picture stands a few ticks off', () => {
    const pts = Array.from({ length: 60 }, (_, k) => Math.round(k * 3753.75) + (k === 59 ? 2 : 0));
    const rate = ratio('24000/1001');
    expect(timingOf(pts, rational(1, 90_000), { declared: [rate] })).toMatchObject({
      constantRate: true,
      rate,
    });
  });

  test('3:2 pulldown told by timestamps is 24000/1001', () => {
    // Pictures stand three and two fields of 60000/1001 in turn (ISO/IEC 13818-2 repeat_first_field).
    const fields = Array.from({ length: 400 }, (_, k) => Math.ceil((k * 5) / 2));
    const pts = fields.map((field) => Math.round((field * 90_000 * 1001) / 60_000));
    expect(timingOf(pts, rational(1, 90_000))).toMatchObject({
      constantRate: true,
      rate: ratio('24000/1001'),
    });
  });
});

describe('a variable rate', () => {
  test('one missing picture is never explained away by a lower rate', () => {
    const gap = fc.double({ min: 0.05, max: 0.95, noNaN: true });
    fc.assert(
      fc.property(
        fc.record({ rate: standard, timeBase: clock, mode: rounding, count: frames, place: gap }),
        ({ rate, timeBase, mode, count, place }) => {
          fc.pre(count >= 4);
          const all = Array.from({ length: count + 1 }, (_, k) =>
            evenTicks({ rate, timeBase, rounding: mode }, k),
          );
          const missing = 1 + Math.floor(place * (count - 1));
          const pts = all.filter((_, k) => k !== missing);
          expect(timingOf(pts, timeBase, { declared: [rate], exact: true }).constantRate).toBe(false);
        },
      ),
    );
  });

  test('a doubled timestamp is no constant rate', () => {
    expect(timingOf([0, 40, 80, 80, 120, 160], rational(1, 1000))).toMatchObject({
      constantRate: false,
      rate: rational(25),
    });
  });

  test('gets the standard rate of its most common distance', () => {
    fc.assert(
      fc.property(
        fc.record({ rate: standard, every: fc.integer({ min: 3, max: 9 }), first: start }),
        ({ rate, every, first }) => {
          const timeBase = rational(1, 1000);
          const all = Array.from(
            { length: 400 },
            (_, k) => first + evenTicks({ rate, timeBase, rounding: 'nearest' }, k),
          );
          const pts = all.filter((_, k) => k % every !== 1 && (k < 200 || k > 230));
          const timing = timingOf(pts, timeBase, { declared: [rate] });
          expect(timing).toMatchObject({ constantRate: false, rate });
        },
      ),
    );
  });

  test('says what is constant only when it is: whatever the timestamps', () => {
    const steps = fc.array(fc.integer({ min: 1, max: 9000 }), { minLength: 1, maxLength: 60 });
    fc.assert(
      fc.property(
        fc.record({ distances: steps, timeBase: clock, first: start, exact: fc.boolean() }),
        ({ distances, timeBase, first, exact }) => {
          let time = first;
          const pts = [first, ...distances.map((distance) => (time += distance))];
          const timing = timingOf(pts, timeBase, { exact });
          expect(timing.lastDurationTicks).toBeGreaterThan(0);
          expect(timing.rate.num).toBeGreaterThan(0);
          if (timing.constantRate) expect(withinHalfAFrame(pts, timeBase, timing.rate)).toBe(true);
        },
      ),
      { numRuns: 300 },
    );
  });

  test('its last picture stands as long as the container says', () => {
    const pts = Float64Array.from([0, 40, 80, 200, 240]);
    const timing = findTiming({
      pts,
      timeBase: rational(1, 1000),
      declared: [],
      exactTicks: false,
      lastDuration: 500,
    });
    expect(timing).toMatchObject({ constantRate: false, lastDurationTicks: 500 });
  });
});

describe('one picture', () => {
  const one = { pts: Float64Array.of(90_000), timeBase: rational(1, 90_000), exactTicks: true };

  test('has the rate of the header, else of its duration', () => {
    expect(findTiming({ ...one, declared: [rational(24)], lastDuration: null })).toMatchObject({
      constantRate: true,
      rate: rational(24),
      lastDurationTicks: 3750,
    });
    const timed = findTiming({ ...one, declared: [], lastDuration: 3000 });
    expect(sameRational(timed.rate, rational(30))).toBe(true);
    expect(timed.lastDurationTicks).toBe(3000);
  });
});
