// How far apart evenly spaced pictures may stand so that every timestamp is explained: pure arithmetic on ticks.
// Timestamps are rounded to the wrapper's clock, so a rate is an interval of possible spacings, not one number.
import type { Rational } from '#shared/rational.ts';

/** Possible distance of two pictures, ticks; empty when `low` > `high`. */
export type Spacing = { readonly low: number; readonly high: number };

/** Spacings that put every timestamp within `tolerance` ticks of first + k × spacing. */
export function spacingWithin(pts: Float64Array, tolerance: number): Spacing {
  return narrow(pts, (time, k) => ({ low: (time - tolerance) / k, high: (time + tolerance) / k }));
}

/** Spacings that put every timestamp within half a spacing: |time − k·s| < s/2. */
export function spacingWithinHalf(pts: Float64Array): Spacing {
  return narrow(pts, (time, k) => ({ low: time / (k + 0.5), high: time / (k - 0.5) }));
}

/**
 * Largest distance of a timestamp from first + k × spacing, ticks, or Infinity when one is half a spacing off or more.
 * Exact: the error is carried from picture to picture in whole parts of `spacing.den`.
 */
export function worstDeviation(pts: Float64Array, spacing: Rational): number {
  let error = 0;
  let worst = 0;
  for (let k = 1; k < pts.length; k += 1) {
    error += ((pts[k] ?? 0) - (pts[k - 1] ?? 0)) * spacing.den - spacing.num;
    const distance = Math.abs(error);
    if (2 * distance >= spacing.num) return Number.POSITIVE_INFINITY;
    if (distance > worst) worst = distance;
  }
  return worst / spacing.den;
}

/** The distance that every two neighbours have; null when they differ or there is only one picture. */
export function equalStep(pts: Float64Array): number | null {
  const step = (pts[1] ?? 0) - (pts[0] ?? 0);
  for (let k = 2; k < pts.length; k += 1) if ((pts[k] ?? 0) - (pts[k - 1] ?? 0) !== step) return null;
  return pts.length > 1 && step > 0 ? step : null;
}

/** The most common distance of neighbours, ticks: mean of the densest bundle of like distances. `pts` has two entries or more. */
export function commonStep(pts: Float64Array): number {
  const steps = Float64Array.from(pts.subarray(1), (time, k) => time - (pts[k] ?? 0)).filter(
    (step) => step > 0,
  );
  steps.sort();
  let best = { from: 0, end: 0 };
  for (let from = 0, end = 0; from < steps.length; from += 1) {
    const smallest = steps[from] ?? 0;
    // Like: within two ticks of rounding, or a twentieth for clocks so fine that no two distances are equal.
    const widest = smallest + Math.max(2, smallest / 20);
    while (end < steps.length && (steps[end] ?? 0) <= widest) end += 1;
    if (end - from > best.end - best.from) best = { from, end };
  }
  const bundle = steps.subarray(best.from, best.end);
  return bundle.length === 0 ? 1 : bundle.reduce((sum, step) => sum + step, 0) / bundle.length;
}

function narrow(pts: Float64Array, limits: (time: number, k: number) => Spacing): Spacing {
  const first = pts[0] ?? 0;
  let [low, high] = [0, Number.POSITIVE_INFINITY];
  for (let k = 1; k < pts.length; k += 1) {
    const limit = limits((pts[k] ?? 0) - first, k);
    if (limit.low > low) low = limit.low;
    if (limit.high < high) high = limit.high;
  }
  return { low, high };
}
