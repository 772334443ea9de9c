// The frame grid of a job: the output's rate and how many frames are due on it.
import type { PictureFacts } from '#shared/facts.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import { multiply, type Rational, sameRational, scaleInteger } from '#shared/rational.ts';

export type FrameGrid = {
  readonly rate: Rational;
  readonly frames: number;
  /** False: frame k is the source's picture k. True: frame k is the picture that stands at k / rate. */
  readonly resample: boolean;
};

/** `covering`: pictures are chosen by time even at a constant rate, so that missing ones are covered. */
export function frameGrid(picture: PictureFacts, format: HouseFormat, covering: boolean): FrameGrid {
  const wanted = format.picture.rate === 'source' ? picture.rate : format.picture.rate;
  if (!covering && picture.constantRate && sameRational(wanted, picture.rate)) {
    return { rate: wanted, frames: picture.frames, resample: false };
  }
  return { rate: wanted, frames: resampledFrames(picture, wanted), resample: true };
}

/**
 * Frames due when each source picture takes the slot nearest to its time, as ffmpeg's `fps` filter with `round=near`
 * does: the last picture keeps its own slot and every slot that its duration reaches.
 */
function resampledFrames(picture: PictureFacts, rate: Rational): number {
  const framesPerTick = multiply(picture.timeBase, rate);
  const lastSlot = scaleInteger(picture.lastTicks - picture.startTicks, framesPerTick, 'nearest');
  const end = picture.lastTicks + picture.lastDurationTicks - picture.startTicks;
  return Math.max(lastSlot + 1, scaleInteger(end, framesPerTick, 'nearest'));
}
