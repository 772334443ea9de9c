// Puts the measured and the claimed together into MediaFacts.
import type { MediaFacts, PictureFacts } from '#shared/facts.ts';
import { multiply, parseRational, type Rational, rational, toNumber } from '#shared/rational.ts';
import type { Choice } from './choose-picture.ts';
import { parseSeconds } from './decimal-seconds.ts';
import { listKeyframes } from './keyframe-list.ts';
import { bitDepthOf, colourOf, fieldOrderOf, rotationOf, sampleAspectOf } from './labels.ts';
import { dynamicLightWarnings, lightLevelsOf } from './light-levels.ts';
import { chaptersOf, otherTracksOf } from './other-tracks.ts';
import type { PacketOrder } from './picture-packets.ts';
import { findTiming, type Timing } from './picture-timing.ts';
import type { ProbeFrame, ProbeHeader } from './probe-report.ts';
import { soundFactsOf } from './sound-facts.ts';
import type { SoundSpan } from './sound-packets.ts';
import { keptTagsOf } from './tags.ts';
import { findLabel, findReelName } from './timecode-label.ts';

export type Measured = {
  readonly file: Pick<MediaFacts, 'bytes' | 'modifiedMs' | 'fingerprint' | 'demuxer'>;
  /** When the labels of the timecode tracks begin, seconds, track by track. */
  readonly timecodeStarts: readonly Rational[];
  readonly header: ProbeHeader;
  readonly choice: Choice;
  readonly frames: readonly ProbeFrame[];
  readonly packets: {
    readonly picture: PacketOrder;
    readonly sound: ReadonlyMap<number, SoundSpan | null>;
  };
  /** Presented pictures, ticks; cuts; what was found on the way. */
  readonly counted: {
    readonly pts: Float64Array;
    readonly cuts: MediaFacts['cuts'];
    readonly warnings: readonly string[];
  };
  readonly timeBase: Rational;
  readonly containerStart: Rational;
};

export function composeFacts(measured: Measured): MediaFacts {
  const { file, header, choice, frames, packets, counted, timeBase, containerStart } = measured;
  const { track } = choice;
  const timing = findTiming({
    pts: counted.pts,
    timeBase,
    declared: [track.avg_frame_rate, track.r_frame_rate]
      .map(parseRational)
      .filter((rate) => rate !== null && rate.num > 0) as Rational[],
    exactTicks: exactDemuxers.has(file.demuxer),
    lastDuration: packets.picture.lastDuration,
  });
  const pictureStart = multiply(rational(counted.pts[0] ?? 0), timeBase);
  const tracks = header.streams.filter((stream) => stream.codec_type === 'audio');
  const sound = tracks.flatMap(
    (stream) => soundFactsOf(stream, packets.sound.get(stream.index) ?? null, toNumber(pictureStart)) ?? [],
  );
  const label = findLabel({
    header,
    picture: track,
    frames,
    rate: timing.rate,
    pictureStart,
    timecodeStarts: measured.timecodeStarts,
  });
  const duration = parseSeconds(header.format.duration);
  const fields = fieldOrderOf(track.field_order, frames, track.codec_name);
  return {
    schema: 1,
    ...file,
    containerStartSeconds: toNumber(containerStart),
    containerDurationSeconds: duration === null ? null : toNumber(duration),
    picture: pictureFacts(measured, timing),
    pictureReason: choice.reason,
    sound,
    otherTracks: otherTracksOf(header, new Set([track.index, ...sound.map((one) => one.index)])),
    timecode: label.timecode,
    reelName: findReelName(header),
    tags: keptTagsOf(header.format.tags),
    chapters: chaptersOf(header, pictureStart),
    cuts: counted.cuts,
    warnings: [
      ...counted.warnings,
      ...[label.warning, rotationOf(track).odd, fields.odd].filter((warning) => warning !== null),
      ...dynamicLightWarnings(track, frames),
      ...lengthWarning(duration, measured, timing),
    ],
  };
}

/** Wrappers whose tables count in the track's own ticks; the others round to a clock. */
const exactDemuxers = new Set(['mov,mp4,m4a,3gp,3g2,mj2', 'mxf', 'avi', 'dv', 'gxf', 'nut', 'yuv4mpegpipe']);

function pictureFacts(
  { choice, frames, packets, counted, timeBase }: Measured,
  timing: Timing,
): PictureFacts {
  const { track } = choice;
  const [first] = frames;
  const pixelFormat = track.pix_fmt ?? first?.pix_fmt ?? 'unknown';
  const keyframes = listKeyframes(track.codec_name, counted.pts, packets.picture.keyTicks);
  return {
    index: track.index,
    codec: track.codec_name,
    profile: track.profile ?? null,
    pixelFormat,
    bitDepth: bitDepthOf(pixelFormat, track.bits_per_raw_sample),
    width: track.width,
    height: track.height,
    sampleAspect: sampleAspectOf(track.sample_aspect_ratio),
    rotation: rotationOf(track).degrees,
    fieldOrder: fieldOrderOf(track.field_order, frames, track.codec_name).order,
    colour: colourOf(track, first),
    hdr: lightLevelsOf(track, frames),
    closedCaptions: track.closed_captions === 1 || frames.some(hasCaptions),
    timeBase,
    startTicks: counted.pts[0] ?? 0,
    lastTicks: counted.pts.at(-1) ?? 0,
    frames: counted.pts.length,
    ...timing,
    allIntra: keyframes.allIntra,
    keyframes: keyframes.allIntra ? [] : Array.from({ length: keyframes.length }, (_, i) => keyframes.at(i)),
  };
}

function hasCaptions(frame: ProbeFrame): boolean {
  return frame.side_data_list.some((data) => data.side_data_type.includes('Closed Captions'));
}

/** The container's own length is only a claim: a cut stream keeps it. */
function lengthWarning(
  duration: Rational | null,
  { counted, packets, timeBase, containerStart }: Measured,
  timing: Timing,
): string[] {
  if (duration === null) return [];
  const pictureEnd = toNumber(timeBase) * ((counted.pts.at(-1) ?? 0) + timing.lastDurationTicks);
  const ends = [...packets.sound.values()].map((span) => span?.endSeconds ?? Number.NEGATIVE_INFINITY);
  const end = Math.max(pictureEnd, ...ends) - toNumber(containerStart);
  const promised = toNumber(duration);
  if (promised - end <= Math.max(1, promised / 50)) return [];
  return [
    `the container tells of ${promised.toFixed(1)} s, but picture and sound end after ${end.toFixed(1)} s; it may have been cut off`,
  ];
}
