// The argument list of the join: grains in order and the sound beside them, copied, on one clock, with everything that
// the film says of itself put back.

import type { Wrapper } from '#shared/house-format.ts';
import { type Rational, rational, toDecimal } from '#shared/rational.ts';
import type { JoinTask } from '#shared/task.ts';
import { fileInput, guardOptions, quietOptions } from './safe-input.ts';
import { pictureStart } from './picture-start.ts';
import { carriedLanguage, carriesReelName } from './wrapper-carries.ts';
import { grainDemuxer, wrapperDemuxers } from './wrapper-demuxers.ts';

export type JoinFiles = {
  /** Concat script and metadata file (see join-list.ts), sound files in the order of the task's, output; absolute paths. */
  readonly script: string;
  readonly metadata: string;
  readonly sound: readonly string[];
  readonly output: string;
};

const muxers: Readonly<Record<Wrapper, string>> = { mov: 'mov', mp4: 'mp4', mkv: 'matroska' };

export function joinArgs(task: JoinTask, files: JoinFiles): string[] {
  const { wrapper } = task.format;
  const start = pictureStart(wrapper, task.plan.sound);
  const metadataInput = String(1 + files.sound.length);
  return [
    ...[...quietOptions, '-y', '-nostats', '-loglevel', 'error'],
    ...pictureInput(files.script, start),
    ...files.sound.flatMap((file, i) => soundInput(task, { file, i }, start)),
    ...[...guardOptions('ffmetadata'), '-f', 'ffmetadata', '-i', fileInput(files.metadata)],
    ...['-map', '0:v:0', ...files.sound.flatMap((_, i) => ['-map', `${i + 1}:a:0`])],
    ...['-map_metadata', metadataInput, '-map_chapters', metadataInput, '-c', 'copy'],
    ...pictureLabels(task),
    ...soundLabels(task),
    ...timecode(task),
    ...(wrapper === 'mkv' ? [] : clocks(task.plan.rate)),
    ...(wrapper === 'mkv' ? [] : ['-movflags', wrapper === 'mp4' ? '+faststart+write_colr' : '+write_colr']),
    ...['-fflags', '+bitexact', '-f', muxers[wrapper], fileInput(files.output)],
  ];
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

/** A sound file begins with its first sample at 0; its place beside the picture is the offset. */
function soundInput(
  { format, sound }: JoinTask,
  { file, i }: { file: string; i: number },
  start: Rational,
): string[] {
  const offset = (sound[i]?.startSeconds ?? 0) + start.num / start.den;
  return [
    '-itsoffset',
    offset.toFixed(6),
    ...guardOptions(wrapperDemuxers[format.wrapper]),
    '-i',
    fileInput(file),
  ];
}

function pictureLabels({ format, plan, facts }: JoinTask): string[] {
  const { codec } = format.picture;
  const reel =
    facts.reelName !== null && carriesReelName(format.wrapper)
      ? ['-metadata:s:v:0', `reel_name=${facts.reelName}`]
      : [];
  return [
    ...['-disposition:v:0', 'default', ...reel],
    ...(codec === 'h265' && format.wrapper !== 'mkv' ? ['-tag:v', 'hvc1'] : []),
    // What a grain's own wrapper loses of FFV1, which has no labels in the stream.
    ...(codec === 'ffv1'
      ? [
          ...label('-color_range', plan.picture.colour.range),
          ...label('-chroma_sample_location', plan.picture.colour.chromaLocation),
        ]
      : []),
  ];
}

function label(option: string, value: string | null): string[] {
  return value === null ? [] : [option, value];
}

function soundLabels({ format, plan }: JoinTask): string[] {
  return plan.sound.flatMap((way, i) => {
    const language = way.language === null ? null : carriedLanguage(format.wrapper, way.language);
    return [
      ...[`-disposition:a:${i}`, way.isDefault ? 'default' : '0'],
      ...(language === null ? [] : [`-metadata:s:a:${i}`, `language=${language}`]),
      ...(way.title === null ? [] : titleLabels(format.wrapper, `-metadata:s:a:${i}`, way.title)),
    ];
  });
}

/** QuickTime and MP4 players show a track's handler name; its `name` atom is read by few. */
function titleLabels(wrapper: Wrapper, option: string, title: string): string[] {
  return [option, `title=${title}`, ...(wrapper === 'mkv' ? [] : [option, `handler_name=${title}`])];
}

function timecode({ format, plan }: JoinTask): string[] {
  if (plan.timecode === null) return [];
  return format.wrapper === 'mkv' ? ['-metadata', `timecode=${plan.timecode}`] : ['-timecode', plan.timecode];
}
