// The contracts by the names that the OpenAPI document gives them, so that it refers to them instead of repeating
// them, and the shapes that many routes share.
import { z } from '@hono/zod-openapi';
import { checkResultSchema } from '#shared/check.ts';
import { mediaFactsSchema } from '#shared/facts.ts';
import { failureSchema } from '#shared/failure.ts';
import { houseFormatSchema } from '#shared/house-format.ts';
import {
  batchSchema,
  batchSubmissionSchema,
  jobDetailSchema,
  jobSummarySchema,
  machineSchema,
  problemSchema,
  reportSchema,
  submissionSchema,
} from '#shared/job.ts';
import { laneSchema } from '#shared/link.ts';
import { planSchema } from '#shared/plan.ts';
import { forecastSchema } from './views/forecast-view.ts';
import { laneViewSchema } from './views/lane-view.ts';
import { volumeViewSchema } from './views/volume-view.ts';

const CheckResult = named(checkResultSchema, 'CheckResult');
const Failure = named(failureSchema, 'Failure');
const Lane = named(laneSchema, 'Lane');
const MediaFacts = named(mediaFactsSchema, 'MediaFacts');
const Plan = named(planSchema, 'Plan');
const Problem = named(problemSchema, 'Problem');

export const Submission = named(submissionSchema, 'Submission');
export const BatchSubmission = named(batchSubmissionSchema, 'BatchSubmission');
export const JobSummary = named(jobSummarySchema, 'JobSummary');
export const Job = named(
  jobDetailSchema.extend({
    facts: MediaFacts.nullable(),
    plan: Plan.nullable(),
    checks: z.array(CheckResult),
    failures: z.array(Failure),
  }),
  'Job',
);
export const Batch = named(
  batchSchema.extend({
    jobs: z.array(JobSummary),
    refused: z.array(z.strictObject({ position: z.int(), problem: Problem })),
  }),
  'Batch',
);
export const Report = named(
  reportSchema.extend({ checks: z.array(CheckResult), error: Failure.nullable() }),
  'Report',
);
export const Machine = named(machineSchema.extend({ lanes: z.array(Lane) }), 'Machine');
export const MachineLane = named(laneViewSchema, 'MachineLane');
export const HouseFormat = named(houseFormatSchema, 'HouseFormat');
export const Volume = named(volumeViewSchema, 'Volume');
export const Forecast = named(forecastSchema, 'Forecast');

/** Lists that are never long have no pages; the wrapper leaves room for some. */
export function listOf<T extends z.ZodType>(item: T) {
  return z.strictObject({ items: z.array(item) });
}

export function json<T extends z.ZodType>(schema: T, description: string) {
  return { description, content: { 'application/json': { schema } } };
}

export function problem(description: string) {
  return { description, content: { 'application/problem+json': { schema: Problem } } };
}

export const idParam = z.object({ id: z.string().openapi({ param: { name: 'id', in: 'path' } }) });

/** What any address may answer. */
export const commonProblems = {
  401: problem('No valid token'),
  500: problem('A fault in Nightmill itself'),
} as const;

/**
 * Under its name in the document. A copy is named, since only schemas that were made after the library was loaded can
 * be, and those of shared may be older.
 */
function named<T extends z.ZodType>(schema: T, name: string): T {
  return schema.clone().openapi(name);
}
