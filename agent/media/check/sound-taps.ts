// What of a sound track is compared: from where it is presented on both sides, and at which places it is listened to.
import type { Wrapper } from '#shared/house-format.ts';
import { hidesEarlySound } from '../picture-start.ts';
import { frameSamples, type PlannedSound } from '../planned-sound.ts';
import type { SoundTap } from './sound-graph.ts';
import { listeningRegions } from './sound-places.ts';

export function soundTap({ way, track }: PlannedSound, wrapper: Wrapper): Omit<SoundTap, 'input'> {
  const start = Math.max(0, way.startSeconds);
  return {
    channels: track.channels,
    fillGaps: way.fillGaps,
    fromSeconds: fromSeconds(way, wrapper),
    regions: listeningRegions(start, Math.max(start, way.startSeconds + track.durationSeconds)),
  };
}

/**
 * A lossy codec's first frame is its own preparation; when its track begins late, players present it before the sound,
 * in place. A lossless track is taken from its first sample on, wherever that is.
 */
function fromSeconds(way: PlannedSound['way'], wrapper: Wrapper): number | null {
  const presented = hidesEarlySound(wrapper) ? Math.max(0, way.startSeconds) : way.startSeconds;
  if (frameSamples(way.encoder) > 1) return presented;
  return hidesEarlySound(wrapper) ? 0 : null;
}

/** How much later the deliverable's track starts than the source's, seconds; `startSeconds` relative to the picture. */
export function startDifference(
  { way, track }: PlannedSound,
  wrapper: Wrapper,
  startSeconds: number,
): number {
  const present = (seconds: number) => (hidesEarlySound(wrapper) ? Math.max(0, seconds) : seconds);
  const difference = present(startSeconds) - present(way.startSeconds);
  const preparation = frameSamples(way.encoder) > 1 ? frameSamples(way.encoder) / track.sampleRate : 0;
  return Math.abs(difference + preparation) < 0.001 ? 0 : difference;
}
