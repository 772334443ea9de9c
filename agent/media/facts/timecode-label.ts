// The label of the first presented picture (SMPTE ST 12-1) and the reel, from wherever the wrapper keeps them.

import type { MediaFacts } from '#shared/facts.ts';
import { multiply, type Rational, scaleInteger, subtract } from '#shared/rational.ts';
import { allowsDropFrame, formatTimecode, parseTimecode, timecodeRate } from '#shared/timecode.ts';
import type { ProbeFrame, ProbeHeader, ProbeStream } from './probe-report.ts';
import { tagOf } from './tags.ts';

export type LabelInput = {
  readonly header: ProbeHeader;
  readonly picture: ProbeStream;
  readonly frames: readonly ProbeFrame[];
  readonly rate: Rational;
  /** First presented picture on the file's clock, seconds. */
  readonly pictureStart: Rational;
  /** When the first label of each timecode track is due on the file's clock, seconds, track by track. */
  readonly timecodeStarts: readonly Rational[];
};

export type Label = { readonly timecode: MediaFacts['timecode']; readonly warning: string | null };

/** The first place that has a label wins: timecode track, picture track, container, the pictures themselves. */
export function findLabel(input: LabelInput): Label {
  const found = candidates(input)[0];
  if (!found) return { timecode: null, warning: null };
  const nominal = timecodeRate(input.rate, false).nominal;
  const parsed = parseTimecode(found.text, nominal);
  if (!parsed) {
    return {
      timecode: null,
      warning: `the timecode ${found.text} (${found.from}) is no label at ${nominal} frames a second and is left out`,
    };
  }
  const { dropFrame } = parsed.rate;
  if (dropFrame && !allowsDropFrame(input.rate)) {
    return {
      timecode: null,
      warning: `the timecode ${found.text} (${found.from}) drops frames, which this rate does not allow, and is left out`,
    };
  }
  const text = formatTimecode(parsed.frame + found.later, parsed.rate);
  const moved = found.later === 0 ? '' : `, ${found.later} frames after its first label`;
  return { timecode: { text, dropFrame, from: `${found.from}${moved}` }, warning: null };
}

/** Name of the reel (tape, card roll) that the film was shot on. */
export function findReelName(header: ProbeHeader): string | null {
  const places = [...header.streams.map((track) => track.tags), header.format.tags];
  for (const tags of places) {
    const name = tagOf(tags, 'reel_name') ?? tagOf(tags, 'com.apple.quicktime.reelname');
    if (name !== null) return name;
  }
  return null;
}

/** True for a track that holds timecode and nothing to see. */
export function isTimecodeTrack(track: ProbeStream): boolean {
  return track.codec_tag_string === 'tmcd';
}

type Candidate = { readonly text: string; readonly from: string; readonly later: number };

function candidates(input: LabelInput): Candidate[] {
  const tracks = input.header.streams.filter((track) => isTimecodeTrack(track));
  return [
    ...tracks.map((track, i) => ({
      text: tagOf(track.tags, 'timecode'),
      from: 'timecode track',
      later: framesInto(input.timecodeStarts[i], input),
    })),
    { text: tagOf(input.picture.tags, 'timecode'), from: 'picture track', later: 0 },
    { text: tagOf(input.header.format.tags, 'timecode'), from: 'container', later: 0 },
    { text: labelInPicture(input.frames[0]), from: 'first picture', later: 0 },
  ].filter((candidate): candidate is Candidate => candidate.text !== null);
}

/** How many frames after the track's first label the first picture is presented: an edit list may hide a head. */
function framesInto(start: Rational | undefined, { rate, pictureStart }: LabelInput): number {
  if (!start) return 0;
  return Math.max(0, scaleInteger(1, multiply(subtract(pictureStart, start), rate), 'nearest'));
}

/** An ST 12-1 label in the picture's own data (H.264, H.265), or the label of an MPEG-2 group of pictures. */
function labelInPicture(frame: ProbeFrame | undefined): string | null {
  if (!frame) return null;
  const texts = frame.side_data_list.flatMap((data) => {
    const list = data['timecodes'];
    const first = Array.isArray(list)
      ? (list[0] as { value?: unknown } | undefined)?.value
      : data['timecode'];
    return typeof first === 'string' ? [first] : [];
  });
  const written = tagOf(frame.tags, 'timecode');
  // Encoders that know of no timecode write zero.
  return (
    [...texts, ...(written === null ? [] : [written])].find((text) => !/^00:00:00[:;.]00$/.test(text)) ?? null
  );
}
