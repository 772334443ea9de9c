// Arguments that compare pictures of source and deliverable at some spots: both sides are brought to the grid by their
// timestamps, the source through the same way of the picture as in the encoders, and held against each other.

import type { PictureWay } from '#shared/plan.ts';
import { type Rational, toDecimal } from '#shared/rational.ts';
import type { PictureTrack, Source } from '#shared/task.ts';
import { gridClock, gridFilters, sourceInput } from '../decode-args.ts';
import { pictureFilters } from '../picture-filters.ts';
import { fileInput, guardOptions, quietOptions } from '../safe-input.ts';
import type { Spot } from './likeness.ts';

export type Comparison = {
  readonly source: {
    readonly local: string;
    readonly demuxer: Source['demuxer'];
    readonly seekSeconds: string | null;
  };
  readonly deliverable: {
    readonly local: string;
    readonly demuxer: string;
    readonly seekSeconds: string | null;
  };
  readonly track: PictureTrack;
  readonly way: PictureWay;
  readonly rate: Rational;
  readonly frames: number;
  /** Where frame 0 stands in the deliverable, seconds. */
  readonly start: Rational;
  /** Spots in rising order, not overlapping, all reached from the seeks. */
  readonly spots: readonly Pick<Spot, 'first' | 'end'>[];
};

/** The scores come on standard output, one line a picture (see `parseSsimLine`). */
export function likenessArgs(comparison: Comparison): string[] {
  const { source, deliverable } = comparison;
  return [
    ...[...quietOptions, '-nostats', '-loglevel', 'error'],
    ...sourceInput(source.local, source, source.seekSeconds),
    ...['-noaccurate_seek', ...guardOptions(deliverable.demuxer)],
    ...(deliverable.seekSeconds === null ? [] : ['-ss', deliverable.seekSeconds]),
    ...['-i', fileInput(deliverable.local)],
    ...['-filter_complex', likenessGraph(comparison), '-map', '[scores]', '-f', 'null', '-'],
  ];
}

/** The source's pictures of the whole grid with a hash each, for lossless formats. */
export function sourceHashArgs({
  source,
  ...grid
}: Pick<Comparison, 'source' | 'track' | 'way' | 'rate' | 'frames'>): string[] {
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

function likenessGraph(comparison: Comparison): string {
  const { track, way, rate, frames, start, spots } = comparison;
  const first = spots[0]?.first ?? 0;
  const end = spots.at(-1)?.end ?? frames;
  const chosen = spots.map((spot) => `between(pts\\,${spot.first}\\,${spot.end - 1})`).join('+');
  const sourceSide = [
    ...gridPictures({ track, way, rate, frames, first, end }),
    `select=${chosen}`,
    ...pictureFilters(track, way),
    averaged(way),
  ];
  const deliverableSide = [
    `setpts=PTS-(${toDecimal(start, 6, 'nearest')})/TB`,
    `settb=${rate.den}/${rate.num}`,
    `trim=start_pts=${first}:end_pts=${end}`,
    `select=${chosen}`,
    // Some decoders give full range a sample format of its own, which would be squeezed without a word.
    ...(way.colour.range === 'pc' ? ['scale=in_range=pc:out_range=pc'] : []),
    `format=${way.pixelFormat}`,
    `setsar=${way.sampleAspect.num}/${way.sampleAspect.den}`,
    averaged(way),
  ];
  return [
    `[0:${track.index}]${sourceSide.join(',')}[source]`,
    `[1:v:0]${deliverableSide.join(',')}[deliverable]`,
    '[deliverable][source]ssim=stats_file=-:eof_action=endall[scores]',
  ].join(';');
}

/** Lines that a compared picture keeps at the least, and samples that are averaged in each direction at the most. */
const leastLines = 90;
const mostAveraged = 4;

/**
 * Pictures are compared at a fraction of their size: an encoder is free to smooth the noise of a dark scene, at full size
 * that alone looks like another picture (a score of 0.4 was measured for a proxy that nobody would complain of).
 */
function averaged({ width, height }: PictureWay): string {
  const parts = Math.max(1, Math.min(mostAveraged, Math.floor(Math.min(width, height) / leastLines)));
  const [w, h] = [width, height].map((samples) => 2 * Math.max(1, Math.round(samples / parts / 2)));
  return `scale=w=${w}:h=${h}:flags=area+accurate_rnd+bitexact`;
}

type GridPart = Pick<Comparison, 'track' | 'way' | 'rate' | 'frames'> & {
  readonly first: number;
  readonly end: number;
};

/** Source pictures `[first, end)` of the grid, their timestamps being their numbers. */
function gridPictures({ track, way, rate, frames, first, end }: GridPart): string[] {
  return [
    ...gridFilters({ track, way, rate, first, toEnd: end === frames }),
    ...gridClock(rate),
    `trim=end_frame=${end - first}`,
    ...(first === 0 ? [] : [`setpts=PTS+${first}`]),
  ];
}
