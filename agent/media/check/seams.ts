// The check `seams` (N1): each attempt decodes one source picture beyond its end, and each grain tells the hashes of its
// first source picture and of the one after its last. Where both agree, nothing was dropped, doubled or shifted there.
import type { CheckResult } from '#shared/check.ts';
import type { CheckTask } from '#shared/task.ts';
import { counted, listed, verdict } from './verdict.ts';

type Grain = CheckTask['grains'][number];

export type SeamFacts = {
  readonly frames: number;
  readonly grains: readonly Grain[];
  /** Frames at which a random access point is planned and absent (see access-points.ts). */
  readonly missingPoints: ReadonlySet<number>;
};

export function checkSeams({ frames, grains, missingPoints }: SeamFacts): CheckResult {
  const borders = grains.slice(1);
  const faults = [
    ...coverFaults(grains, frames),
    ...borders.flatMap((grain, i) => pictureFaults(grains[i], grain)),
    ...endFaults(grains),
    ...grains
      .filter((grain) => missingPoints.has(grain.first))
      .map((grain) => fault(grain.first, 'has no random access point')),
  ];
  const seams = borders.filter((grain, i) => grain.attempt !== grains[i]?.attempt).length;
  const fine = `${counted(borders.length, 'grain border')} with the same picture on both sides, ${seams} between attempts`;
  return verdict({
    name: 'seams',
    ok: faults.length === 0,
    measured: listed(
      faults.map((f) => `frame ${f.frame} ${f.text}`),
      fine,
    ),
    limit:
      'the source picture after each grain is the first of the next one, and the film begins and ends with its grains',
    frames: faults.map((f) => f.frame),
  });
}

/** Frames `first` of the grains that begin at a seam: another attempt made the grain before. */
export function seamFrames(grains: readonly Grain[]): number[] {
  return grains
    .filter((grain, i) => i > 0 && grain.attempt !== grains[i - 1]?.attempt)
    .map((grain) => grain.first);
}

type Fault = { readonly frame: number; readonly text: string };

function fault(frame: number, text: string): Fault {
  return { frame, text };
}

function coverFaults(grains: readonly Grain[], frames: number): Fault[] {
  const faults = grains
    .filter((grain, i) => grain.first !== (grains[i - 1]?.end ?? 0))
    .map((grain) => fault(grain.first, 'does not follow on the grain before'));
  const end = grains.at(-1)?.end ?? 0;
  return end === frames
    ? faults
    : [...faults, fault(Math.min(end, frames), `is where the grains end, ${frames} frames are due`)];
}

function pictureFaults(before: Grain | undefined, after: Grain): Fault[] {
  if (before?.nextPicture === after.firstPicture) return [];
  return [fault(after.first, 'is another source picture than the one after the grain before')];
}

function endFaults(grains: readonly Grain[]): Fault[] {
  const early = grains.slice(0, -1).filter((grain) => grain.nextPicture === null);
  const last = grains.at(-1);
  return [
    ...early.map((grain) => fault(grain.end, 'was never seen by the attempt before it')),
    ...(last && last.nextPicture !== null
      ? [fault(last.end - 1, 'is not the last picture of the source')]
      : []),
  ];
}
