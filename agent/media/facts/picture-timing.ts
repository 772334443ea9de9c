// Decides from the timestamps whether a picture track has a constant rate, and which. The header is only a hint:
// it may promise 30 frames/s for a track that a telephone recorded as it liked.
import { divide, formatRational, type Rational, rational, sameRational, toNumber } from '#shared/rational.ts';
import {
  commonStep,
  equalStep,
  type Spacing,
  spacingWithin,
  spacingWithinHalf,
  worstDeviation,
} from './frame-spacing.ts';
import { simplestBetween } from './simple-fraction.ts';
import { nearestStandardRate, standardRates } from './standard-rates.ts';

export type TimingInput = {
  /** Timestamps in presentation order, ticks; one or more. */
  readonly pts: Float64Array;
  /** Seconds per tick. */
  readonly timeBase: Rational;
  /** Rates that the header names, best first. */
  readonly declared: readonly Rational[];
  /** The wrapper counts ticks exactly (sample tables) and doesn't round to a clock of its own. */
  readonly exactTicks: boolean;
  /** What the container says of the last picture, ticks. */
  readonly lastDuration: number | null;
};

export type Timing = {
  readonly constantRate: boolean;
  readonly rate: Rational;
  readonly rateReason: string;
  readonly lastDurationTicks: number;
};

type Found = { readonly rate: Rational; readonly reason: string };

export function findTiming(input: TimingInput): Timing {
  const { timeBase } = input;
  const constant = input.pts.length === 1 ? onePicture(input) : constantRate(input);
  if (constant) {
    const spacing = toNumber(divide(divide(rational(1), constant.rate), timeBase));
    const last = input.pts.length === 1 ? (input.lastDuration ?? spacing) : spacing;
    return {
      constantRate: true,
      rate: constant.rate,
      rateReason: constant.reason,
      lastDurationTicks: wholeTicks(last),
    };
  }
  const step = commonStep(input.pts);
  const perSecond = timeBase.den / (timeBase.num * step);
  const rate = nearestPreferring(perSecond, input.declared);
  return {
    constantRate: false,
    rate,
    rateReason: `variable: ${whyVariable(input.pts, step)}; ${formatRational(rate)} is the standard rate nearest to it`,
    lastDurationTicks: wholeTicks(input.lastDuration ?? step),
  };
}

/** Which rates count: standard ones that the header names, all standard ones, or any. */
type Choice = 'named' | 'standard' | 'any';

/** Rounding to the nearest tick comes before any other rounding, of which the first picture has its own. */
const strictest: readonly { readonly tolerance: number; readonly choice: Choice }[] = [
  { tolerance: 1, choice: 'named' },
  { tolerance: 0.5, choice: 'standard' },
  { tolerance: 1, choice: 'standard' },
  // A picture that is a few ticks off makes the header's rate more likely than some odd one that fits it by chance.
  { tolerance: 4, choice: 'named' },
  { tolerance: 0.5, choice: 'any' },
  { tolerance: 1, choice: 'any' },
];

/** Tries the explanations from the strictest to the loosest; null when none puts every picture within half a frame. */
function constantRate(input: TimingInput): Found | null {
  const { pts, timeBase, exactTicks } = input;
  const step = equalStep(pts);
  // A clock of one or two ticks a picture was made for the picture.
  if (step !== null && (exactTicks || step <= 2)) {
    return {
      rate: rateOf(rational(step), timeBase),
      reason: `every picture stands ${step} ticks of ${formatRational(timeBase)} s`,
    };
  }
  for (const { tolerance, choice } of strictest) {
    // With few ticks a picture, rounding can't be told from jitter.
    const found =
      tolerance > meanStep(pts) / 8 ? null : rateWithin(input, spacingWithin(pts, tolerance), choice);
    if (found) {
      const reason = `all timestamps are ${formatRational(found)} rounded to ${formatRational(timeBase)} s`;
      return { rate: found, reason };
    }
  }
  const loose = rateWithin(input, spacingWithinHalf(pts), 'standard');
  if (!loose || explainsGapsAway(input, loose)) return null;
  const milliseconds = (worstDeviation(pts, spacingOf(loose, timeBase)) * timeBase.num * 1000) / timeBase.den;
  return {
    rate: loose,
    reason: `timestamps are off ${formatRational(loose)} by ${milliseconds.toFixed(1)} ms at the most, less than half a frame`,
  };
}

/**
 * One missing picture in 25 makes 24 of them, all within half a frame of 24 frames/s. Where a distance is much longer
 * than the others, the rate has to be that of the others.
 */
function explainsGapsAway({ pts, timeBase, declared }: TimingInput, rate: Rational): boolean {
  const steps = Float64Array.from(pts.subarray(1), (time, k) => time - (pts[k] ?? 0)).toSorted();
  const median = steps[(steps.length - 1) >> 1] ?? 0;
  // 3:2 pulldown has distances of one and a half.
  if ((steps.at(-1) ?? 0) <= 1.6 * median) return false;
  const common = timeBase.den / (timeBase.num * commonStep(pts));
  return !sameRational(rate, nearestPreferring(common, declared));
}

/**
 * The rate whose spacing lies in the interval: a standard one that the header names, else the standard one nearest to
 * the mean, else the header's, the clock's own step or the simplest fraction.
 */
function rateWithin(
  { pts, timeBase, declared }: TimingInput,
  interval: Spacing,
  choice: Choice,
): Rational | null {
  if (!(interval.low <= interval.high)) return null;
  const fits = (rate: Rational) => {
    const spacing = spacingOf(rate, timeBase);
    const ticks = toNumber(spacing);
    // The interval is rounded arithmetic; its edges get a little room, and the exact check decides about halves.
    const room = 1e-9 * ticks;
    const inside = ticks >= interval.low - room && ticks <= interval.high + room;
    return inside && Number.isFinite(worstDeviation(pts, spacing));
  };
  const standard = standardRates.filter(fits);
  const named = declared.find((rate) => standard.some((other) => sameRational(rate, other)));
  if (named || choice === 'named') return named ?? null;
  if (standard.length > 0) {
    return nearestStandardRate(timeBase.den / (timeBase.num * meanStep(pts)), standard);
  }
  if (choice === 'standard') return null;
  const own = equalStep(pts);
  const simple = simplestBetween(interval.low, interval.high);
  const spacings = [...(own === null ? [] : [rational(own)]), ...(simple ? [simple] : [])];
  return [...declared, ...spacings.map((spacing) => rateOf(spacing, timeBase))].find(fits) ?? null;
}

function meanStep(pts: Float64Array): number {
  return ((pts.at(-1) ?? 0) - (pts[0] ?? 0)) / (pts.length - 1);
}

function onePicture({ declared, lastDuration, timeBase }: TimingInput): Found {
  const named = declared[0];
  if (named) return { rate: named, reason: 'there is one picture; the rate is the header’s' };
  if (lastDuration !== null) {
    return {
      rate: rateOf(rational(lastDuration), timeBase),
      reason: 'there is one picture; the rate is from its duration',
    };
  }
  return {
    rate: rational(25),
    reason: 'there is one picture and nothing tells its duration; 25 frames/s is assumed',
  };
}

function nearestPreferring(perSecond: number, declared: readonly Rational[]): Rational {
  const nearest = nearestStandardRate(perSecond);
  // 30 and 30000/1001 differ by a thousandth: less than a millisecond clock shows, so the header decides between them.
  const close = (rate: Rational) => Math.abs(toNumber(rate) / toNumber(nearest) - 1) < 0.0015;
  return (
    declared.find((rate) => close(rate) && standardRates.some((other) => sameRational(rate, other))) ??
    nearest
  );
}

function whyVariable(pts: Float64Array, step: number): string {
  let [narrowest, widest, doubled] = [Number.POSITIVE_INFINITY, 0, 0];
  for (let k = 1; k < pts.length; k += 1) {
    const distance = (pts[k] ?? 0) - (pts[k - 1] ?? 0);
    if (distance <= 0) doubled += 1;
    narrowest = Math.min(narrowest, distance);
    widest = Math.max(widest, distance);
  }
  if (doubled > 0) return `${doubled} pictures have no later time than the one before`;
  const [least, most] = [narrowest / step, widest / step].map((ratio) => ratio.toFixed(2));
  return `pictures stand ${least} to ${most} times the most common duration`;
}

function rateOf(spacing: Rational, timeBase: Rational): Rational {
  return divide(divide(rational(1), timeBase), spacing);
}

function spacingOf(rate: Rational, timeBase: Rational): Rational {
  return divide(divide(rational(1), timeBase), rate);
}

function wholeTicks(ticks: number): number {
  return Math.max(1, Math.round(ticks));
}
