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
 * Frames due when each picture takes the slot nearest to its time, as ffmpeg's `fps` filter with `round=near` does it
 * (measured: beginning and end are rounded to frames each by itself). The last picture always has a slot of its own.
 */
function resampledFrames(picture: PictureFacts, rate: Rational): number {
  const framesPerTick = multiply(picture.timeBase, rate);
  const toFrame = (ticks: number) => scaleInteger(ticks, framesPerTick, 'nearest');
  const lastSlot = toFrame(picture.lastTicks - picture.startTicks);
  const end = toFrame(picture.lastTicks + picture.lastDurationTicks) - toFrame(picture.startTicks);
  return Math.max(lastSlot + 1, end);
}
