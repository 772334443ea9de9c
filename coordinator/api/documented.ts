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
import { changeSchema } from './views/event-view.ts';
import { forecastSchema } from './views/forecast-view.ts';
import { laneViewSchema } from './views/lane-view.ts';
import { volumeViewSchema } from './views/volume-view.ts';

const CheckResult = checkResultSchema.openapi('CheckResult');
const Failure = failureSchema.openapi('Failure');
const Lane = laneSchema.openapi('Lane');
const MediaFacts = mediaFactsSchema.openapi('MediaFacts');
const Plan = planSchema.openapi('Plan');
const Problem = problemSchema.openapi('Problem');

export const Submission = submissionSchema.openapi('Submission');
export const BatchSubmission = batchSubmissionSchema.openapi('BatchSubmission');
export const JobSummary = jobSummarySchema.openapi('JobSummary');
export const Job = jobDetailSchema
  .extend({
    facts: MediaFacts.nullable(),
    plan: Plan.nullable(),
    checks: z.array(CheckResult),
    failures: z.array(Failure),
  })
  .openapi('Job');
export const Batch = batchSchema
  .extend({
    jobs: z.array(JobSummary),
    refused: z.array(z.strictObject({ position: z.int(), problem: Problem })),
  })
  .openapi('Batch');
export const Report = reportSchema
  .extend({ checks: z.array(CheckResult), error: Failure.nullable() })
  .openapi('Report');
export const Machine = machineSchema.extend({ lanes: z.array(Lane) }).openapi('Machine');
export const MachineLane = laneViewSchema.openapi('MachineLane');
export const HouseFormat = houseFormatSchema.openapi('HouseFormat');
export const Volume = volumeViewSchema.openapi('Volume');
export const Forecast = forecastSchema.openapi('Forecast');
export const Change = changeSchema.openapi('Change');

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
