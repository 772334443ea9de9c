// The check `likeness`: structural similarity of deliverable and source at every seam and at evenly spread places.
// A floor for every picture, and a seam no worse than the pictures beside it.
import type { CheckResult } from '#shared/check.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import { counted, listed, verdict } from './verdict.ts';

/** A place to look at: frames `[first, end)`; `seam` is the first frame after the seam, null for a plain sample. */
export type Spot = { readonly first: number; readonly end: number; readonly seam: number | null };

export type SpotScores = {
  readonly spot: Spot;
  /** Similarity 0–1 of each frame of the spot, in order; fewer than the spot's frames when pictures were missing. */
  readonly scores: readonly number[];
};

/** Frames looked at on each side of a seam. */
const reachFrames = 4;
const sampleFrames = 2;
/** One more than asked for: a sample that falls on a seam is left to it. */
const samplesTaken = 6;
const mostSeams = 40;

/**
 * `seams`: first frames after the seams, rising. Films with very many seams are looked at in 40 of them, spread. The
 * spots rise and don't overlap; a sample that falls on a seam is left to it.
 */
export function likenessSpots(seams: readonly number[], frames: number): Spot[] {
  const chosen = spread(seams, mostSeams);
  const atSeams = chosen.map((seam, i) => ({
    first: Math.max(seam - reachFrames, Math.ceil(((chosen[i - 1] ?? -seam) + seam) / 2)),
    end: Math.min(seam + reachFrames, Math.ceil(((chosen[i + 1] ?? 2 * frames - seam) + seam) / 2)),
    seam,
  }));
  const samples = samplePlaces(frames).filter(
    (one) => !atSeams.some((spot) => one.first < spot.end && spot.first < one.end),
  );
  return [...atSeams, ...samples].toSorted((a, b) => a.first - b.first);
}

function samplePlaces(frames: number): Spot[] {
  const middles = Array.from({ length: samplesTaken }, (_, i) =>
    Math.floor(((2 * i + 1) * frames) / (2 * samplesTaken)),
  );
  const places = [...new Set(middles)];
  return places.map((first, i) => ({
    first,
    end: Math.min(first + sampleFrames, places[i + 1] ?? frames),
    seam: null,
  }));
}

export function checkLikeness(found: readonly SpotScores[], limits: HouseFormat['checks']): CheckResult {
  const faults = found.flatMap((one) => [
    ...missingFaults(one),
    ...floorFaults(one, limits),
    ...dropFaults(one, limits),
  ]);
  const scores = found.flatMap((one) => one.scores);
  const worst = scores.length === 0 ? 'nothing' : Math.min(...scores).toFixed(4);
  const seams = found.filter((one) => one.spot.seam !== null).length;
  const fine = `at least ${worst} over ${counted(scores.length, 'picture')} at ${counted(seams, 'seam')} and ${counted(found.length - seams, 'sample')}`;
  return verdict({
    name: 'likeness',
    ok: faults.length === 0 && scores.length > 0,
    measured: listed(
      faults.map((fault) => fault.text),
      fine,
    ),
    limit: `structural similarity, noise averaged out, at least ${limits.likenessFloor}, at a seam at most ${limits.seamDrop} less than beside it`,
    frames: faults.map((fault) => fault.frame),
  });
}

type Fault = { readonly frame: number; readonly text: string };

function missingFaults({ spot, scores }: SpotScores): Fault[] {
  const due = spot.end - spot.first;
  if (scores.length === due) return [];
  return [
    {
      frame: spot.first,
      text: `${scores.length} of ${due} pictures could be compared at frame ${spot.first}`,
    },
  ];
}

function floorFaults({ spot, scores }: SpotScores, { likenessFloor }: HouseFormat['checks']): Fault[] {
  return scores.flatMap((score, i) => {
    const frame = spot.first + i;
    return score >= likenessFloor ? [] : [{ frame, text: `${score.toFixed(4)} at frame ${frame}` }];
  });
}

/** Each side of a seam is held against its own neighbours, since the seam may well be a change of scene. */
function dropFaults({ spot, scores }: SpotScores, { seamDrop }: HouseFormat['checks']): Fault[] {
  const { seam } = spot;
  if (seam === null) return [];
  const before = scores.slice(0, seam - spot.first).toReversed();
  const after = scores.slice(seam - spot.first);
  return [dropFault(seam - 1, before, seamDrop), dropFault(seam, after, seamDrop)].flat();
}

/** `side`: scores from the seam outwards. */
function dropFault(frame: number, side: readonly number[], seamDrop: number): Fault[] {
  const [atSeam, ...beside] = side;
  if (atSeam === undefined || beside.length === 0) return [];
  const drop = Math.min(...beside) - atSeam;
  return drop <= seamDrop
    ? []
    : [{ frame, text: `${drop.toFixed(4)} less than its neighbours at frame ${frame}` }];
}

/** At most `most` of the values, evenly spread, the first and the last among them. */
function spread(values: readonly number[], most: number): number[] {
  if (values.length <= most) return [...values];
  const picked = Array.from(
    { length: most },
    (_, i) => values[Math.round((i * (values.length - 1)) / (most - 1))],
  );
  return picked.filter((value) => value !== undefined);
}
