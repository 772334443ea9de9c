// What the routes share in the OpenAPI document: names of the schemas, and the shape of every error answer.
import type { OpenAPIHono } from '@hono/zod-openapi';
import { z } from 'zod';
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

const names = {
  Submission: submissionSchema,
  BatchSubmission: batchSubmissionSchema,
  JobSummary: jobSummarySchema,
  Job: jobDetailSchema,
  Batch: batchSchema,
  Report: reportSchema,
  Machine: machineSchema,
  Lane: laneSchema,
  MachineLane: laneViewSchema,
  HouseFormat: houseFormatSchema,
  Volume: volumeViewSchema,
  Forecast: forecastSchema,
  Change: changeSchema,
  MediaFacts: mediaFactsSchema,
  Plan: planSchema,
  CheckResult: checkResultSchema,
  Failure: failureSchema,
  Problem: problemSchema,
} as const satisfies Record<string, z.ZodType>;

/** Gives the shared schemas their names in the document, so that it refers to them instead of repeating them. */
export function nameSchemas(): void {
  for (const [id, schema] of Object.entries(names)) z.globalRegistry.add(schema, { id });
}

/** Serves the document at `/v1/openapi.json`; it is made once, on the first request. */
export function addDocument(app: OpenAPIHono, version: string): void {
  let document: unknown = null;
  app.get('/v1/openapi.json', (c) => {
    document ??= app.getOpenAPI31Document({
      openapi: '3.1.0',
      info: {
        title: 'Nightmill coordinator',
        version,
        description: 'Pools the machines of a small studio to encode long sources. Errors are RFC 9457 problem documents.',
      },
      tags: [
        { name: 'jobs', description: 'What editors send and follow' },
        { name: 'farm', description: 'Machines, what they can do, and when the work will be done' },
        { name: 'service', description: 'For probes and monitoring' },
      ],
    });
    return c.json(document as object);
  });
}

export function json<T extends z.ZodType>(schema: T, description: string) {
  return { description, content: { 'application/json': { schema } } };
}

/** Error answers by status, as every route's `responses` lists them. */
export function problems<Status extends number>(answers: Readonly<Record<Status, string>>) {
  const entries = Object.entries<string>(answers).map(([status, description]) => [
    status,
    { description, content: { 'application/problem+json': { schema: problemSchema } } },
  ]);
  return Object.fromEntries(entries) as Record<Status, ReturnType<typeof problemAnswer>>;
}

function problemAnswer(description: string) {
  return { description, content: { 'application/problem+json': { schema: problemSchema } } };
}

/** The path parameter of everything that has an id or a name. */
export const idParam = z.object({ id: z.string().openapi({ param: { name: 'id', in: 'path' } }) });
