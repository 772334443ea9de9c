// The simplest fraction in an interval: how a rate that is no standard one gets an exact value.
import { type Rational, rational } from '#shared/rational.ts';

/**
 * The fraction with the smallest denominator in [low, high], 0 < low ≤ high (Stern–Brocot descent by continued
 * fractions). Null when none with safe parts is found.
 */
export function simplestBetween(low: number, high: number): Rational | null {
  const parts: number[] = [];
  let [from, to] = [low, high];
  for (let depth = 0; depth < 40; depth += 1) {
    const whole = Math.ceil(from);
    if (whole <= to) return fold([...parts, whole]);
    const floor = Math.floor(from);
    parts.push(floor);
    [from, to] = [1 / (to - floor), 1 / (from - floor)];
  }
  return null;
}

function fold(parts: readonly number[]): Rational | null {
  let [num, den] = [parts.at(-1) ?? 1, 1];
  for (const part of parts.slice(0, -1).toReversed()) [num, den] = [part * num + den, num];
  return Number.isSafeInteger(num) && Number.isSafeInteger(den) && den > 0 ? rational(num, den) : null;
}
