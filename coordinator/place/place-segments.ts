// Which free place gets which frames. Every lease is a share of what is left in proportion to the lane's measured rate,
// a part at a time, so that a wrong rate is made good by the later leases (weighted factoring: Hummel, Schmidt, Uma,
// Wein, SPAA 1996; here 3/5 of the share a time instead of 1/2, since our leases can be taken over at a grain border).
import type { FrameRange } from '#shared/schema-parts.ts';
import type { Assignment, EncodePlace, EncodeWork, PlaceLane } from './place-types.ts';

/** Part of its share of the rest that a place gets at once. */
const partAtOnce = 0.6;

/** Grains of one lease at the most: keeps argument lists short and the bet on one machine small. */
const mostGrains = 720;

/** Deterministic (N10): places in the order given, jobs by priority, then age, then id. */
export function placeSegments(places: readonly EncodePlace[], work: readonly EncodeWork[]): Assignment[] {
  const assignments: Assignment[] = [];
  const left = new Map(work.map((job) => [job.jobId, [...job.runs]]));
  // Every place of a round takes its share of what was left when the round began, so that all finish together.
  const rests = new Map(work.map((job) => [job.jobId, framesOf(job.runs)]));
  const classes = new Map(work.map((job) => [job.jobId, job.stitchClass ?? fastestClass(places, job)]));
  const ordered = [...work].toSorted(byUrgency);
  for (const place of places.filter((candidate) => candidate.free)) {
    for (const job of ordered) {
      const lane = usableLane(place, job, classes.get(job.jobId) ?? null);
      if (lane === null || isAvoided(place, job, places)) continue;
      const runs = left.get(job.jobId) ?? [];
      const range = takeLease(
        runs,
        job,
        ((rests.get(job.jobId) ?? 0) * rateOf(lane, job)) / sumOfRates(places, job, lane.stitchClass),
      );
      if (range === null) continue;
      assignments.push({
        jobId: job.jobId,
        agentId: place.agentId,
        laneId: lane.laneId,
        stitchClass: lane.stitchClass,
        range,
      });
      break;
    }
  }
  return assignments;
}

function byUrgency(a: EncodeWork, b: EncodeWork): number {
  return b.priority - a.priority || a.receivedMs - b.receivedMs || (a.jobId < b.jobId ? -1 : 1);
}

/** The stitch class whose lanes together are fastest for this job; null when no machine has a lane for it. */
function fastestClass(places: readonly EncodePlace[], job: EncodeWork): string | null {
  const sums = new Map<string, number>();
  for (const place of places) {
    for (const lane of lanesFor(place, job))
      sums.set(lane.stitchClass, (sums.get(lane.stitchClass) ?? 0) + rateOf(lane, job));
  }
  const ranked = [...sums].toSorted(([nameA, a], [nameB, b]) => b - a || (nameA < nameB ? -1 : 1));
  return ranked[0]?.[0] ?? null;
}

function usableLane(place: EncodePlace, job: EncodeWork, stitchClass: string | null): PlaceLane | null {
  return lanesFor(place, job).find((lane) => lane.stitchClass === stitchClass) ?? null;
}

function lanesFor(place: EncodePlace, job: EncodeWork): readonly PlaceLane[] {
  return job.reachableBy.has(place.agentId) ? place.lanes.filter((lane) => lane.codec === job.codec) : [];
}

function isAvoided(place: EncodePlace, job: EncodeWork, places: readonly EncodePlace[]): boolean {
  return (
    job.avoid.has(place.agentId) &&
    places.some((other) => !job.avoid.has(other.agentId) && lanesFor(other, job).length > 0)
  );
}

/**
 * Frames/s of the job's output. A format that was never measured on the lane goes by the slowest that was, which keeps
 * the machines' proportions; a lane without any measure counts as slow, not as absent.
 */
function rateOf(lane: PlaceLane, job: EncodeWork): number {
  const measured = Object.values(lane.megapixelsPerSecond);
  const nearest = measured.length > 0 ? Math.min(...measured) : 1;
  return ((lane.megapixelsPerSecond[job.formatKey] ?? nearest) * 1e6) / job.pixels;
}

function sumOfRates(places: readonly EncodePlace[], job: EncodeWork, stitchClass: string): number {
  return places.reduce((sum, place) => {
    const lane = usableLane(place, job, stitchClass);
    return lane === null ? sum : sum + rateOf(lane, job);
  }, 0);
}

function framesOf(runs: readonly FrameRange[]): number {
  return runs.reduce((sum, { first, end }) => sum + (end - first), 0);
}

/** Takes a part of `share` frames from the first free run and shortens that run; null when nothing is left. */
function takeLease(runs: FrameRange[], job: EncodeWork, share: number): FrameRange | null {
  const run = runs[0];
  if (run === undefined) return null;
  const grains = Math.min(mostGrains, Math.max(1, Math.round((share * partAtOnce) / job.grainFrames)));
  const end = job.whole ? run.end : Math.min(run.end, run.first + grains * job.grainFrames);
  if (end === run.end) runs.shift();
  else runs[0] = { first: end, end: run.end };
  return { first: run.first, end };
}
