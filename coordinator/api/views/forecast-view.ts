// When the work will be done, as far as anyone can know: frames that are missing over the rates that were measured.
// What isn't known stays null; joining, checking and machines that come or go are not foreseen.
import { z } from 'zod';
import type { Machine } from '#shared/job.ts';
import { jobStateSchema } from '#shared/job.ts';
import { storedFrames } from '../../ledger/job-summary.ts';
import type { JobRecord } from '../../state/job-record.ts';
import { type ProgressByAttempt, viewSegments } from './segment-view.ts';

const jobForecastSchema = z.strictObject({
  id: z.string(),
  source: z.string(),
  state: jobStateSchema,
  /** Frames not yet encoded; null before the source was inspected. */
  framesLeft: z.int().nonnegative().nullable(),
  framesPerSecond: z.number().positive().nullable(),
  /** `measured`: what the job's encoders do now. `calibrated`: what the machines' lanes did in their trial encodes. */
  basis: z.enum(['measured', 'calibrated', 'unknown']),
  /** Until its last frame is encoded. */
  secondsLeft: z.number().nonnegative().nullable(),
  encodedAt: z.iso.datetime().nullable(),
});

export const forecastSchema = z.strictObject({
  at: z.iso.datetime(),
  jobs: z.array(jobForecastSchema),
  /** Until the last of them is encoded; null when that isn't known, 0 when there is nothing to do. */
  secondsLeft: z.number().nonnegative().nullable(),
  encodedAt: z.iso.datetime().nullable(),
});
export type Forecast = z.infer<typeof forecastSchema>;
type JobForecast = Forecast['jobs'][number];

export type ForecastFacts = {
  /** In the order in which they are worked on. */
  readonly jobs: readonly JobRecord[];
  readonly progressOf: (jobId: string) => ProgressByAttempt;
  readonly machines: readonly Machine[];
  readonly nowMs: number;
};

export function viewForecast(facts: ForecastFacts): Forecast {
  const rated = facts.jobs.map((job) => ({ job, framesLeft: framesLeft(job), ...rateOf(job, facts) }));
  // Jobs that run now run side by side; the others follow one after another on machines that are free then.
  const running = rated.filter((entry) => entry.basis === 'measured').map((entry) => secondsFor(entry) ?? 0);
  let freeAfterSeconds: number | null = Math.max(0, ...running);
  const jobs = rated.map((entry) => {
    const seconds = secondsFor(entry);
    if (entry.basis === 'measured' || seconds === 0) return toForecast(entry, seconds, facts.nowMs);
    freeAfterSeconds = freeAfterSeconds === null || seconds === null ? null : freeAfterSeconds + seconds;
    return toForecast(entry, freeAfterSeconds, facts.nowMs);
  });
  return {
    at: new Date(facts.nowMs).toISOString(),
    jobs,
    secondsLeft: freeAfterSeconds,
    encodedAt: instantAfter(facts.nowMs, freeAfterSeconds),
  };
}

type Rated = Pick<JobForecast, 'framesLeft' | 'framesPerSecond' | 'basis'> & { readonly job: JobRecord };

function toForecast({ job, ...rated }: Rated, secondsLeft: number | null, nowMs: number): JobForecast {
  const encodedAt = instantAfter(nowMs, secondsLeft);
  return { id: job.id, source: job.submission.source, state: job.state, ...rated, secondsLeft, encodedAt };
}

function secondsFor({ framesLeft: frames, framesPerSecond }: Rated): number | null {
  if (frames === 0) return 0;
  return frames === null || framesPerSecond === null ? null : frames / framesPerSecond;
}

function framesLeft(job: JobRecord): number | null {
  return job.plan === null ? null : job.plan.frames - storedFrames(job);
}

function rateOf(job: JobRecord, facts: ForecastFacts): Pick<Rated, 'framesPerSecond' | 'basis'> {
  const open = viewSegments(job, facts.progressOf(job.id)).filter((segment) => segment.state === 'open');
  const measured = open.reduce((sum, segment) => sum + (segment.framesPerSecond ?? 0), 0);
  if (measured > 0) return { framesPerSecond: measured, basis: 'measured' };
  const calibrated = calibratedRate(job, facts.machines);
  return calibrated > 0
    ? { framesPerSecond: calibrated, basis: 'calibrated' }
    : { framesPerSecond: null, basis: 'unknown' };
}

/** What all living machines together can do for this job, each on its best lane, frames/s; 0 when nothing is known. */
function calibratedRate(job: JobRecord, machines: readonly Machine[]): number {
  if (job.plan === null) return 0;
  const megapixels = (job.plan.picture.width * job.plan.picture.height) / 1e6;
  const lending = machines.filter((machine) => machine.alive && machine.encodePlaces > 0);
  return lending.reduce((sum, machine) => sum + bestLaneRate(job, machine) / megapixels, 0);
}

/** Megapixels/s. */
function bestLaneRate(job: JobRecord, machine: Machine): number {
  const usable = machine.lanes.filter(
    (lane) => lane.proven && (job.stitchClass === null || lane.stitchClass === job.stitchClass),
  );
  const rates = usable.map(
    (lane) => lane.rates[`${job.format.name}@${job.format.version}`]?.megapixelsPerSecond ?? 0,
  );
  return Math.max(0, ...rates);
}

function instantAfter(nowMs: number, seconds: number | null): string | null {
  return seconds === null ? null : new Date(nowMs + seconds * 1000).toISOString();
}
