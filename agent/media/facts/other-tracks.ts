// Tracks that are neither the chosen picture nor sound that is kept, and chapters.

import type { MediaFacts } from '#shared/facts.ts';
import { type Rational, subtract, toNumber } from '#shared/rational.ts';
import { isAttached } from './choose-picture.ts';
import { parseSeconds } from './decimal-seconds.ts';
import type { ProbeHeader, ProbeStream } from './probe-report.ts';
import { tagOf } from './tags.ts';
import { isTimecodeTrack } from './timecode-label.ts';

/** `taken`: indexes of the tracks that are the picture or kept sound. */
export function otherTracksOf(header: ProbeHeader, taken: ReadonlySet<number>): MediaFacts['otherTracks'] {
  return header.streams
    .filter((track) => !taken.has(track.index))
    .map((track) => ({
      index: track.index,
      kind: kindOf(track),
      codec: codecOf(track),
      note: noteOn(track),
    }));
}

/** Chapters relative to the first presented picture, seconds; those that end before it are left out. */
export function chaptersOf(header: ProbeHeader, pictureStart: Rational): MediaFacts['chapters'] {
  const relative = (text: string) => {
    const time = parseSeconds(text) ?? { num: 0, den: 1 };
    return Math.max(0, toNumber(subtract(time, pictureStart)));
  };
  return header.chapters
    .map((chapter) => ({
      startSeconds: relative(chapter.start_time),
      endSeconds: relative(chapter.end_time),
      title: tagOf(chapter.tags, 'title') ?? '',
    }))
    .filter((chapter) => chapter.endSeconds > chapter.startSeconds);
}

function kindOf(track: ProbeStream): string {
  if (isTimecodeTrack(track)) return 'timecode';
  return track.codec_type === 'video' && isAttached(track) ? 'attached picture' : track.codec_type;
}

function codecOf(track: ProbeStream): string {
  return track.codec_name === 'unknown' && track.codec_tag_string !== ''
    ? track.codec_tag_string
    : track.codec_name;
}

function noteOn(track: ProbeStream): string {
  if (isTimecodeTrack(track)) return 'its first label becomes the timecode of the deliverable';
  if (track.codec_type === 'audio') return 'holds no sound that can be decoded; left out';
  if (track.codec_type === 'subtitle') return 'subtitles or captions; left out';
  return 'left out';
}
