// The decoding side of an encoder process: where to read and which pictures of the source are frames of the grid.
// Every segment must give its encoder the very pictures of one pass over the whole file (N1). The seek only chooses
// where reading begins; exact timestamps choose the pictures.

import type { PictureWay } from '#shared/plan.ts';
import { divide, multiply, type Rational, rational, scaleInteger, toDecimal } from '#shared/rational.ts';
import type { PictureTrack, Source } from '#shared/task.ts';
import { fileInput, guardOptions } from './safe-input.ts';

/** Options up to and including `-i`. `local` is the source's absolute path on this machine. */
export function sourceInput(
  local: string,
  source: Pick<Source, 'demuxer'>,
  seekSeconds: string | null,
): string[] {
  const seek = seekSeconds === null ? [] : ['-ss', seekSeconds];
  // Timestamps are kept as they are, and nothing is thrown away before our own trim: seeking is only a hint.
  return ['-copyts', '-noaccurate_seek', ...guardOptions(source.demuxer), ...seek, '-i', fileInput(local)];
}

export type GridSpan = {
  readonly track: PictureTrack;
  readonly way: Pick<PictureWay, 'resample' | 'tolerant' | 'deinterlace'>;
  readonly rate: Rational;
  /** Number of the first frame that is wanted. */
  readonly first: number;
  /** The span reaches to the film's last frame. */
  readonly toEnd: boolean;
};

/** Filters from the decoder to pictures of the grid, frame `first` being the first. Timestamps are still the source's. */
export function gridFilters(span: GridSpan): string[] {
  return [...deinterlaceFilters(span), ...(span.way.resample ? resampleFilters(span) : [exactTrim(span)])];
}

/** Gives the pictures the grid's own clock: picture n of the span at n / rate. */
export function gridClock(rate: Rational): string[] {
  return [`settb=${rate.den}/${rate.num}`, 'setpts=N'];
}

/** Timestamp of frame `frame` of a constant-rate grid, ticks of the source's track. */
export function ticksOfFrame(track: PictureTrack, rate: Rational, frame: number): number {
  return track.startTicks + scaleInteger(frame, ticksPerFrame(track, rate), 'nearest');
}

function deinterlaceFilters({ track, way }: GridSpan): string[] {
  if (way.deinterlace === null) return [];
  const parity = way.deinterlace === 'top-first' ? 'tff' : 'bff';
  // The filter halves the time base even when it gives one picture a frame; the trim below counts source ticks.
  return [
    `bwdif=mode=send_frame:parity=${parity}:deint=all`,
    `settb=${track.timeBase.num}/${track.timeBase.den}`,
  ];
}

/** Half a frame early, so that jitter below half a frame can't move the border; up, where a tick is a whole frame. */
function exactTrim({ track, rate, first }: GridSpan): string {
  const half = divide(ticksPerFrame(track, rate), rational(2));
  return `trim=start_pts=${track.startTicks + scaleInteger(2 * first - 1, half, 'ceil')}`;
}

/**
 * The grid is always counted from the source's first picture: a segment that starts later has the time before it filled
 * with copies of its first picture, which the trim then drops. So every segment rounds as the whole-file pass does.
 */
function resampleFilters({ track, way, rate, first, toEnd }: GridSpan): string[] {
  const start = toDecimal(multiply(rational(track.startTicks), track.timeBase), 9, 'nearest');
  // Without a picture after it, the filter drops a last picture whose duration it doesn't know: copies follow it until
  // the grid is full.
  const hold = toEnd ? [`tpad=stop_mode=clone:stop=${way.tolerant ? -1 : lastPictureFrames(track) + 2}`] : [];
  return [
    ...hold,
    `fps=fps=${rate.num}/${rate.den}:start_time=${start}:round=near`,
    `trim=start_frame=${first}`,
  ];
}

/** How often the last picture's duration holds one of the source's own frames. */
function lastPictureFrames(track: PictureTrack): number {
  return scaleInteger(track.lastDurationTicks, multiply(track.timeBase, track.rate), 'ceil');
}

function ticksPerFrame(track: PictureTrack, rate: Rational): Rational {
  return divide(divide(rational(1), rate), track.timeBase);
}
