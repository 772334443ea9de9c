// The argument list of the join: grains in order and the sound beside them, copied, on one clock, with everything that
// the film says of itself put back.
import type { Wrapper } from '#shared/house-format.ts';
import { type Rational, rational, toDecimal } from '#shared/rational.ts';
import type { JoinTask } from '#shared/task.ts';
import { pictureLabels, soundLabels, timecodeLabel } from './join-labels.ts';
import { pictureStart } from './picture-start.ts';
import { plannedSound, preparationSeconds } from './planned-sound.ts';
import { fileInput, guardOptions, quietOptions } from './safe-input.ts';
import { grainDemuxer, wrapperDemuxers } from './wrapper-demuxers.ts';

export type JoinFiles = {
  /** Concat script and metadata file (see join-list.ts), sound files in the order of the task's, output; absolute paths. */
  readonly script: string;
  readonly metadata: string;
  readonly sound: readonly string[];
  readonly output: string;
  /** Bytes kept free for an MP4's header at the head of the file; null: the header is moved there in the end. */
  readonly headerRoom: number | null;
};

const muxers: Readonly<Record<Wrapper, string>> = { mov: 'mov', mp4: 'mp4', mkv: 'matroska' };

export function joinArgs(task: JoinTask, files: JoinFiles): string[] {
  const { wrapper } = task.format;
  const tracks = plannedSound(task);
  const start = pictureStart({ wrapper, rate: task.plan.rate }, tracks);
  const metadataInput = String(1 + files.sound.length);
  return [
    ...[...quietOptions, '-y', '-nostats', '-loglevel', 'error'],
    ...pictureInput(files.script, start),
    ...files.sound.flatMap((file, i) => soundInput(wrapper, file, soundOffset(task, { i, start }))),
    ...[...guardOptions('ffmetadata'), '-f', 'ffmetadata', '-i', fileInput(files.metadata)],
    ...['-map', '0:v:0', ...files.sound.flatMap((_, i) => ['-map', `${i + 1}:a:0`])],
    ...['-map_metadata', metadataInput, '-map_chapters', metadataInput, '-c', 'copy'],
    ...pictureLabels(task),
    ...soundLabels(task),
    ...timecodeLabel(task),
    ...(wrapper === 'mkv' ? [] : clocks(task.plan.rate)),
    ...headerPlace(wrapper, files.headerRoom),
    ...['-fflags', '+bitexact', '-f', muxers[wrapper], fileInput(files.output)],
  ];
}

/** An MP4 begins with its header, so that it plays before it is there whole. */
function headerPlace(wrapper: Wrapper, room: number | null): string[] {
  if (wrapper === 'mkv') return [];
  if (wrapper === 'mov') return ['-movflags', '+write_colr'];
  return room === null
    ? ['-movflags', '+faststart+write_colr']
    : ['-movflags', '+write_colr', '-moov_size', String(room)];
}

/** Ticks per second of the picture track: the rate's numerator, doubled until players that expect fine clocks are content. */
export function trackTimescale(rate: Rational): number {
  let scale = rate.num;
  while (scale < 10_000) scale *= 2;
  return scale;
}

/** Ticks per second of edit lists and of the whole film: holds frames and samples of 48 kHz exactly. */
export function movieTimescale(rate: Rational): number {
  const both = rate.num * rational(48_000, rate.num).num;
  // Rates of odd figures: frames exactly, samples to 20 µs at the worst.
  return both <= 100_000_000 ? both : rate.num * Math.ceil(48_000 / rate.num);
}

function clocks(rate: Rational): string[] {
  return [
    '-movie_timescale',
    String(movieTimescale(rate)),
    '-video_track_timescale',
    String(trackTimescale(rate)),
  ];
}

function pictureInput(script: string, start: Rational): string[] {
  const offset = start.num === 0 ? [] : ['-itsoffset', toDecimal(start, 3, 'nearest')];
  // Without auto_convert H.264 stays as it is; with it, parameter sets would be put into the stream.
  const concat = ['-f', 'concat', '-safe', '0', '-auto_convert', '0'];
  return [...offset, ...guardOptions(`concat,${grainDemuxer}`), ...concat, '-i', fileInput(script)];
}

function soundInput(wrapper: Wrapper, file: string, offsetSeconds: number): string[] {
  return [
    '-itsoffset',
    offsetSeconds.toFixed(6),
    ...guardOptions(wrapperDemuxers[wrapper]),
    '-i',
    fileInput(file),
  ];
}

/** A sound file begins with its first sample, or with what prepares the decoder for it; its place is the offset. */
function soundOffset(task: JoinTask, { i, start }: { i: number; start: Rational }): number {
  const planned = plannedSound(task)[i];
  const preparation = planned === undefined ? 0 : preparationSeconds(task.format.wrapper, planned);
  return (task.sound[i]?.startSeconds ?? 0) - preparation + start.num / start.den;
}
