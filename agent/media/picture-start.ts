// Where the first picture stands in a deliverable when sound begins before it.
import type { Wrapper } from '#shared/house-format.ts';
import { type Rational, rational } from '#shared/rational.ts';
import { type PlannedSound, preparationSeconds } from './planned-sound.ts';

/** QuickTime and MP4 keep early sound and present it from the first picture on; Matroska has no way to hide it. */
export function hidesEarlySound(wrapper: Wrapper): boolean {
  return wrapper !== 'mkv';
}

/**
 * Seconds. A whole number of milliseconds, so that Matroska's clock rounds every frame as if it began at 0, and of the
 * grains' own ticks (1 / numerator of the rate), so that it can be told exactly; early sound stands before.
 */
export function pictureStart(
  deliverable: { wrapper: Wrapper; rate: Rational },
  sound: readonly PlannedSound[],
): Rational {
  const { wrapper, rate } = deliverable;
  if (hidesEarlySound(wrapper)) return rational(0);
  const starts = sound.map((one) => one.way.startSeconds - preparationSeconds(wrapper, one));
  const leadSeconds = -Math.min(0, ...starts);
  const stepsPerSecond = commonDivisor(1000, rate.num);
  // A microsecond of slack: 0.5 s that was computed as 0.5000000001 is still 500 ms.
  return rational(Math.ceil((leadSeconds - 1e-6) * stepsPerSecond), stepsPerSecond);
}

function commonDivisor(a: number, b: number): number {
  return b === 0 ? a : commonDivisor(b, a % b);
}
