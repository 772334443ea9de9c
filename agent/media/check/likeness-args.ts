// Arguments that compare pictures of source and deliverable at some spots: both sides are brought to the grid by their
// timestamps, the source through the same way of the picture as in the encoders; what is chosen of each is written small
// and raw, and then held against each other.

import type { PictureWay } from '#shared/plan.ts';
import { type Rational, toDecimal } from '#shared/rational.ts';
import type { PictureTrack, Source } from '#shared/task.ts';
import { gridClock, gridFilters, sourceInput } from '../decode-args.ts';
import { pictureFilters } from '../picture-filters.ts';
import { fileInput, guardOptions, quietOptions } from '../safe-input.ts';
import type { Spot } from './likeness.ts';

type Spots = readonly Pick<Spot, 'first' | 'end'>[];

export type SpotFile = {
  /** In rising order, not overlapping. */
  readonly spots: Spots;
  /** Absolute path for their pictures. */
  readonly file: string;
};

type Grid = {
  readonly track: PictureTrack;
  readonly way: PictureWay;
  readonly rate: Rational;
  readonly frames: number;
};

export type SourceAt = {
  readonly local: string;
  readonly demuxer: Source['demuxer'];
  readonly seekSeconds: string | null;
};

/** Writes the source's pictures at the spots, all of them reached from the seek. */
export function sourceSpotArgs(source: SourceAt, grid: Grid, { spots, file }: SpotFile): string[] {
  const { track, way, frames } = grid;
  const first = spots[0]?.first ?? 0;
  const end = spots.at(-1)?.end ?? frames;
  const pictures = [
    ...gridPictures({ ...grid, first, end }),
    chosen(spots),
    ...pictureFilters(track, way),
    averaged(way),
  ];
  return [
    ...[...quietOptions, '-y', '-nostats', '-loglevel', 'error'],
    ...sourceInput(source.local, source, source.seekSeconds),
    ...['-filter_complex', `[0:${track.index}]${pictures.join(',')}[pictures]`, '-map', '[pictures]'],
    ...rawOutput(way, file),
  ];
}

/** Further output of a decoder run over the deliverable: its pictures at the spots. `start`: where frame 0 stands, seconds. */
export function deliverableSpotOutput(
  { way, rate }: Pick<Grid, 'way' | 'rate'>,
  start: Rational,
  { spots, file }: SpotFile,
): string[] {
  const pictures = [
    `setpts=PTS-(${toDecimal(start, 6, 'nearest')})/TB`,
    `settb=${rate.den}/${rate.num}`,
    chosen(spots),
    // Some decoders give full range a sample format of its own, which would be squeezed without a word.
    ...(way.colour.range === 'pc' ? ['scale=in_range=pc:out_range=pc'] : []),
    `format=${way.pixelFormat}`,
    averaged(way),
  ];
  return ['-map', '0:v:0', '-vf', pictures.join(','), ...rawOutput(way, file)];
}

/** Scores of raw pictures of the two sides, in pairs; on standard output, one line a picture (see `parseSsimLine`). */
export function scoreArgs(way: PictureWay, deliverable: string, source: string): string[] {
  const { width, height } = comparedSize(way);
  const raw = (file: string) => [
    ...[...guardOptions('rawvideo'), '-f', 'rawvideo', '-pixel_format', way.pixelFormat],
    ...['-video_size', `${width}x${height}`, '-framerate', '25', '-i', fileInput(file)],
  ];
  return [
    ...[...quietOptions, '-nostats', '-loglevel', 'error', ...raw(deliverable), ...raw(source)],
    ...['-filter_complex', '[0:v][1:v]ssim=stats_file=-:eof_action=endall[scores]'],
    ...['-map', '[scores]', '-f', 'null', '-'],
  ];
}

/** The source's pictures of the whole grid with a hash each, for lossless formats. */
export function sourceHashArgs(source: SourceAt, grid: Grid): string[] {
  const pictures = [
    ...gridPictures({ ...grid, first: 0, end: grid.frames }),
    ...pictureFilters(grid.track, grid.way),
  ];
  return [
    ...[...quietOptions, '-nostats', '-loglevel', 'error'],
    ...sourceInput(source.local, source, null),
    ...['-filter_complex', `[0:${grid.track.index}]${pictures.join(',')}[pictures]`],
    ...['-map', '[pictures]', '-fps_mode', 'passthrough', '-f', 'framehash', '-hash', 'murmur3', 'pipe:1'],
  ];
}

/** Reads `n:1 Y:0.98 U:0.99 V:0.99 All:0.985 (18.2)`; the similarity over all planes, or null for another line. */
export function parseSsimLine(line: string): number | null {
  const match = /^n:\d+ .*\bAll:(-?(?:\d+(?:\.\d+)?|nan|inf))\b/.exec(line);
  if (!match) return null;
  const score = Number(match[1]);
  return Number.isFinite(score) ? score : 0;
}

function chosen(spots: Spots): string {
  return `select=${spots.map(({ first, end }) => `between(pts\\,${first}\\,${end - 1})`).join('+')}`;
}

function rawOutput({ pixelFormat }: PictureWay, output: string): string[] {
  return [
    ...['-fps_mode', 'passthrough', '-c:v', 'rawvideo', '-pix_fmt', pixelFormat],
    ...['-f', 'rawvideo', fileInput(output)],
  ];
}

/** Lines that a compared picture keeps at the least, and samples that are averaged in each direction at the most. */
const leastLines = 90;
const mostAveraged = 4;

/**
 * Pictures are compared at a fraction of their size: an encoder is free to smooth the noise of a dark scene, at full size
 * that alone looks like another picture (a score of 0.4 was measured for a proxy that nobody would complain of).
 */
function comparedSize({ width, height }: PictureWay): { width: number; height: number } {
  const parts = Math.max(1, Math.min(mostAveraged, Math.floor(Math.min(width, height) / leastLines)));
  const part = (samples: number) => 2 * Math.max(1, Math.round(samples / parts / 2));
  return { width: part(width), height: part(height) };
}

function averaged(way: PictureWay): string {
  const { width, height } = comparedSize(way);
  return `scale=w=${width}:h=${height}:flags=area+accurate_rnd+bitexact`;
}

type GridPart = Grid & { readonly first: number; readonly end: number };

/** Source pictures `[first, end)` of the grid, their timestamps being their numbers. */
function gridPictures({ track, way, rate, frames, first, end }: GridPart): string[] {
  return [
    ...gridFilters({ track, way, rate, first, toEnd: end === frames }),
    ...gridClock(rate),
    `trim=end_frame=${end - first}`,
    ...(first === 0 ? [] : [`setpts=PTS+${first}`]),
  ];
}
