// How much room the movie header of an MP4 takes at the most. With so much kept free at the head of the file, a join writes
// the media once; without, it has to move all of it when the header's length is known.
import { toNumber } from '#shared/rational.ts';
import type { JoinTask } from '#shared/task.ts';
import { frameSamples, plannedSound } from './planned-sound.ts';

// Bytes of the sample tables of ISO/IEC 14496-12, 8.6 and 8.7, when nothing in them can be told shortly: a time offset (8),
// a size (4), a chunk's offset (8), its run (12), a keyframe's number (4).
const perPicture = 36;
const perSoundFrame = 32;
const perTrack = 4_096;
const perChapter = 1_024;
const fixed = 16_384;
/** Sound may last longer than the picture. */
const moreSeconds = 60;

/** Bytes; null when sound of another kind than AAC makes it hard to tell. */
export function headerRoom(task: Pick<JoinTask, 'facts' | 'plan'>): number | null {
  const { facts, plan } = task;
  const tracks = plannedSound(task);
  if (tracks.some(({ way }) => frameSamples(way.encoder) === 1)) return null;
  const seconds = plan.frames / toNumber(plan.rate) + moreSeconds;
  const sound = tracks.map(({ way, track }) =>
    Math.ceil((seconds * track.sampleRate) / frameSamples(way.encoder)),
  );
  const tags = Object.entries(facts.tags).reduce(
    (sum, [name, text]) => sum + name.length + 4 * text.length,
    0,
  );
  const soundFrames = sound.reduce((sum, frames) => sum + frames, 0);
  return (
    fixed +
    tags +
    perTrack * (2 + tracks.length) +
    perChapter * facts.chapters.length +
    perPicture * plan.frames +
    perSoundFrame * soundFrames
  );
}
