// What editors send and see: submissions, jobs, batches, machines, reports, problems.
import { z } from 'zod';
import { checkResultSchema } from './check.ts';
import { type ErrorCode, errorKinds } from './errors.ts';
import { mediaFactsSchema } from './facts.ts';
import { failureSchema } from './failure.ts';
import { laneSchema, reachSchema } from './link.ts';
import { planSchema } from './plan.ts';
import { agentIdSchema, jobIdSchema } from './schema-parts.ts';
import { volumePathText } from './volume-path.ts';

export const jobStates = [
  'received',
  'inspected',
  'encoding',
  'joining',
  'checking',
  'delivered',
  'held',
  'failed',
  'cancelled',
] as const;
export type JobState = (typeof jobStates)[number];
export const jobStateSchema = z.enum(jobStates);

/** States in which nothing more happens by itself. `held` and `failed` can be retried. */
export const restingStates: readonly JobState[] = ['delivered', 'held', 'failed', 'cancelled'];

export const submissionSchema = z.strictObject({
  source: volumePathText,
  /** Name of a house format; the newest version is taken and recorded. */
  format: z.string().min(1).max(64),
  /** Folder on the destination volume: `share:proxies/day03`. */
  to: z.string().min(2).max(4096),
  /** Higher goes first. */
  priority: z.int().min(-100).max(100).default(0),
  /** Replace an existing file of that name (N6: never unless asked). */
  replace: z.boolean().default(false),
});
export type Submission = z.output<typeof submissionSchema>;

export const batchSubmissionSchema = z.strictObject({ jobs: z.array(submissionSchema).min(1).max(1000) });

const segmentViewSchema = z.strictObject({
  attempt: z.int(),
  machine: z.string(),
  lane: z.string(),
  first: z.int(),
  end: z.int(),
  state: z.enum(['open', 'done', 'failed', 'lost', 'stopped']),
  framesDone: z.int(),
  framesPerSecond: z.number().nullable(),
  grainsStored: z.int(),
});

/**
 * What had to be made again after failed checks, the most costly last: nothing; the join and maybe the sound; grains; the
 * whole film on one lane.
 */
export const fallbackSchema = z.enum(['none', 'join', 'grains', 'whole']);
export type Fallback = z.infer<typeof fallbackSchema>;

/** A job as lists show it. Times are ISO 8601 in UTC. */
export const jobSummarySchema = z.strictObject({
  id: jobIdSchema,
  batchId: z.string().nullable(),
  state: jobStateSchema,
  source: z.string(),
  format: z.strictObject({ name: z.string(), version: z.int() }),
  deliverable: z.string(),
  priority: z.int(),
  receivedAt: z.iso.datetime(),
  changedAt: z.iso.datetime(),
  framesDone: z.int(),
  framesTotal: z.int().nullable(),
  /** The last failure that stands, one sentence; null when there is none. */
  reason: z.string().nullable(),
});
export type JobSummary = z.infer<typeof jobSummarySchema>;

/** Why nobody works on a job that could go on, one sentence; null when somebody does, or when a failure stands. */
const waitingSchema = z.string().nullable();

export const jobDetailSchema = z.strictObject({
  ...jobSummarySchema.shape,
  facts: mediaFactsSchema.nullable(),
  plan: planSchema.nullable(),
  segments: z.array(segmentViewSchema),
  grains: z.strictObject({ stored: z.int(), total: z.int().nullable() }),
  checks: z.array(checkResultSchema),
  failures: z.array(failureSchema),
  fallback: fallbackSchema,
  waitingFor: waitingSchema,
});
export type JobDetail = z.infer<typeof jobDetailSchema>;

export const pageSchema = <T extends z.ZodType>(item: T) =>
  z.strictObject({ items: z.array(item), nextCursor: z.string().nullable() });

export const batchSchema = z.strictObject({
  id: z.string(),
  jobs: z.array(jobSummarySchema),
  /** Submissions that were not taken, by position. */
  refused: z.array(z.strictObject({ position: z.int(), problem: z.lazy(() => problemSchema) })),
});

export const machineSchema = z.strictObject({
  id: agentIdSchema,
  name: z.string(),
  alive: z.boolean(),
  lastHeardAt: z.iso.datetime(),
  platform: z.string(),
  cpu: z.string(),
  cores: z.int(),
  ffmpeg: z.string(),
  version: z.string(),
  encodePlaces: z.int(),
  busyPlaces: z.int(),
  lanes: z.array(laneSchema),
  reach: reachSchema,
});
export type Machine = z.infer<typeof machineSchema>;

/** The report of one job; `once --json` and the file beside a deliverable have this shape. */
export const reportSchema = z.strictObject({
  source: z.string(),
  state: jobStateSchema,
  deliverable: z.string().nullable(),
  format: z.strictObject({ name: z.string(), version: z.int() }),
  frames: z.int().nullable(),
  rate: z.string().nullable(),
  bytes: z.int().nullable(),
  hash: z.string().nullable(),
  segments: z.array(segmentViewSchema),
  grains: z.int(),
  fallback: fallbackSchema,
  checks: z.array(checkResultSchema),
  notes: z.array(z.string()),
  versions: z.record(z.string(), z.string()),
  waitingFor: waitingSchema,
  error: failureSchema.nullable(),
});
export type Report = z.infer<typeof reportSchema>;

/** RFC 9457 problem details. `type` is stable: `urn:nightmill:problem:<code>`. */
export const problemSchema = z.object({
  type: z.string(),
  title: z.string(),
  status: z.int(),
  detail: z.string(),
  errors: z.array(z.strictObject({ path: z.string(), message: z.string() })).optional(),
});
export type Problem = z.infer<typeof problemSchema>;

function problemType(code: ErrorCode): string {
  return `urn:nightmill:problem:${code}`;
}

/** The problem document of an error code. `detail` is the one sentence of this case. */
export function toProblem(code: ErrorCode, detail: string): Problem {
  return {
    type: problemType(code),
    title: errorKinds[code].title,
    status: errorKinds[code].httpStatus,
    detail,
  };
}
