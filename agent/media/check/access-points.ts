// Where the random access points (sync samples) of the joined picture stand. A grain that doesn't begin with one can't
// be decoded by itself, and a player that seeks there shows rubbish.

import type { Rational } from '#shared/rational.ts';
import type { CheckTask } from '#shared/task.ts';
import { frameClock } from './frame-clock.ts';
import type { PicturePacket } from './picture-packets.ts';

export type AccessPlan = {
  readonly rate: Rational;
  readonly frames: number;
  readonly gopFrames: number;
  readonly timeBase: Rational;
  /** Where frame 0 stands, seconds. */
  readonly start: Rational;
  readonly allIntra: boolean;
  readonly grains: readonly Pick<CheckTask['grains'][number], 'first' | 'end'>[];
};

export type AccessPoints = {
  add(packet: PicturePacket): void;
  /** Planned points that are absent, and points that nobody planned; frames in rising order. */
  result(): { readonly missing: number[]; readonly extra: number[]; readonly found: number };
};

export function watchAccessPoints(plan: AccessPlan): AccessPoints {
  const isKey = new Uint8Array(plan.frames);
  const clock = frameClock(plan);
  let found = 0;
  return {
    add(packet) {
      if (packet.pts === null || !packet.keyframe) return;
      const frame = clock.frameAt(packet.pts);
      found += 1;
      if (frame >= 0 && frame < plan.frames) isKey[frame] = 1;
    },
    result() {
      const due = plannedPoints(plan);
      const missing: number[] = [];
      const extra: number[] = [];
      for (let frame = 0; frame < plan.frames; frame += 1) {
        if (due[frame] === 1 && isKey[frame] === 0) missing.push(frame);
        if (due[frame] === 0 && isKey[frame] === 1) extra.push(frame);
      }
      return { missing, extra, found };
    },
  };
}

/** One byte a frame, 1 where a point is due: every picture of an intra codec, else every GOP counted from its grain's start. */
function plannedPoints({ frames, gopFrames, allIntra, grains }: AccessPlan): Uint8Array {
  const due = new Uint8Array(frames);
  if (allIntra) return due.fill(1);
  for (const grain of grains) {
    for (let frame = grain.first; frame < Math.min(grain.end, frames); frame += gopFrames) due[frame] = 1;
  }
  return due;
}
