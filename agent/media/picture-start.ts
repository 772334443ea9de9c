// Where the first picture stands in a deliverable when sound begins before it.
import type { Wrapper } from '#shared/house-format.ts';
import type { SoundWay } from '#shared/plan.ts';
import { type Rational, rational } from '#shared/rational.ts';

/** QuickTime and MP4 keep early sound and present it from the first picture on; Matroska has no way to hide it. */
export function hidesEarlySound(wrapper: Wrapper): boolean {
  return wrapper !== 'mkv';
}

/**
 * Seconds, a whole number of milliseconds so that Matroska's clock rounds every frame as if it began at 0; early sound
 * stands before.
 */
export function pictureStart(wrapper: Wrapper, sound: readonly Pick<SoundWay, 'startSeconds'>[]): Rational {
  const earliest = Math.min(0, ...sound.map((way) => way.startSeconds));
  // A microsecond of slack: 0.5 s that was computed as 0.5000000001 is still 500 ms.
  return hidesEarlySound(wrapper) ? rational(0) : rational(Math.ceil(-earliest * 1000 - 0.001), 1000);
}
