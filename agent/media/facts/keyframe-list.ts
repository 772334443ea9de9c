// Keyframes by their picture number, for sources with few of them and for sources that have nothing else.

import { createNumberColumn } from './number-column.ts';

export type Keyframe = { readonly frame: number; readonly ticks: number };

export type KeyframeList = {
  /** Every picture is one. */
  readonly allIntra: boolean;
  readonly length: number;
  /** Keyframe `i`, `0 ≤ i < length`, in presentation order. */
  at(i: number): Keyframe;
};

/** Codecs whose pictures never refer to another one, whatever flags the wrapper sets. */
const intraOnlyCodecs = new Set(
  (
    'prores dnxhd mjpeg dvvideo jpeg2000 cfhd hap png tiff rawvideo v210 v410 r210 huffyuv ' +
    'ffvhuff utvideo magicyuv'
  ).split(' '),
);

/** `pts` rising; `keyTicks` rising. Keyframes that no picture is presented for are left out. */
export function listKeyframes(codec: string, pts: Float64Array, keyTicks: Float64Array): KeyframeList {
  const at = (frame: number): Keyframe => ({ frame, ticks: pts[frame] ?? 0 });
  if (intraOnlyCodecs.has(codec)) return { allIntra: true, length: pts.length, at };
  const frames = createNumberColumn();
  let frame = 0;
  for (const ticks of keyTicks) {
    while (frame < pts.length && (pts[frame] ?? 0) < ticks) frame += 1;
    if (pts[frame] === ticks) frames.push(frame);
  }
  const found = frames.values();
  if (found.length === pts.length) return { allIntra: true, length: pts.length, at };
  return { allIntra: false, length: found.length, at: (i) => at(found[i] ?? 0) };
}
