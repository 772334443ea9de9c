// The sound tracks of a deliverable: what the plan makes of them and what they are in the source, side by side.
import type { MediaFacts, SoundTrack } from '#shared/facts.ts';
import type { Wrapper } from '#shared/house-format.ts';
import type { Plan, SoundWay } from '#shared/plan.ts';

export type PlannedSound = { readonly way: SoundWay; readonly track: SoundTrack };

type Planned = { readonly plan: Pick<Plan, 'sound'>; readonly facts: Pick<MediaFacts, 'sound'> };

/** In the deliverable's order. Ways without a track of the source can't be; they would be left out. */
export function plannedSound({ plan, facts }: Planned): PlannedSound[] {
  return plan.sound.flatMap((way) => {
    const track = facts.sound.find((one) => one.index === way.index);
    return track === undefined ? [] : [{ way, track }];
  });
}

/** Samples of one frame of the encoder's codec; AAC pads its last one. 1 where any number can be written. */
export function frameSamples(encoder: string): number {
  return encoder.includes('aac') ? 1024 : 1;
}

/**
 * Seconds that a lossy codec's first frame, which only prepares the decoder, stands before the first sound. QuickTime and
 * MP4 hide it themselves; in Matroska, as ffmpeg writes it, it is a frame like any other.
 */
export function preparationSeconds(wrapper: Wrapper, { way, track }: PlannedSound): number {
  const samples = frameSamples(way.encoder);
  return wrapper === 'mkv' && samples > 1 ? samples / track.sampleRate : 0;
}
