// What editors do with jobs: submit, list, look, cancel, retry, read the report.
import { createRoute, type OpenAPIHono, z } from '@hono/zod-openapi';
import { MillError } from '#shared/errors.ts';
import { jobStateSchema, pageSchema } from '#shared/job.ts';
import type { JobRecord } from '../state/job-record.ts';
import type { ApiPorts } from './api-ports.ts';
import { commonProblems, idParam, Job, JobSummary, json, problem, Report, Submission } from './documented.ts';
import { readIdempotencyKey } from './idempotency-key.ts';
import { viewJobDetail } from './views/job-view.ts';
import { viewReport } from './views/report-view.ts';

const tags = ['jobs'];
const key = z
  .string()
  .optional()
  .openapi({ description: 'Sent again with the same request, it gives the job that it made the first time' });

const submitRoute = createRoute({
  method: 'post',
  path: '/v1/jobs',
  tags,
  summary: 'Submit one source for one house format',
  request: {
    headers: z.object({ 'idempotency-key': key }),
    body: { required: true, content: { 'application/json': { schema: Submission } } },
  },
  responses: {
    201: {
      ...json(Job, 'The job, written down. A repeated Idempotency-Key gives the first one, as it is now'),
      headers: z.object({ Location: z.string().openapi({ description: 'Address of the job' }) }),
    },
    400: problem('The request is not valid'),
    409: problem('A file of that name is already there'),
    413: problem('The request is too large'),
    415: problem('The request is not JSON'),
    422: problem(
      'The request names something that cannot be worked on, or the key was used for another request',
    ),
    507: problem('There is not enough space for the work'),
    ...commonProblems,
  },
});

const listRoute = createRoute({
  method: 'get',
  path: '/v1/jobs',
  tags,
  summary: 'Jobs, newest first, by pages',
  request: {
    query: z.object({
      state: jobStateSchema.optional(),
      batch: z.string().min(1).optional(),
      limit: z.coerce.number().int().min(1).max(200).default(50),
      cursor: z.string().min(1).optional().openapi({ description: 'nextCursor of the page before' }),
    }),
  },
  responses: {
    200: json(pageSchema(JobSummary), 'One page'),
    400: problem('The query is not valid'),
    ...commonProblems,
  },
});

const oneJob = { tags, request: { params: idParam } };
const notFound = problem('There is no such job');
const wrongState = problem('The job is not in a state for that');

const getRoute = createRoute({
  method: 'get',
  path: '/v1/jobs/{id}',
  summary: 'Everything about one job',
  ...oneJob,
  responses: { 200: json(Job, 'The job'), 404: notFound, ...commonProblems },
});

const cancelRoute = createRoute({
  method: 'post',
  path: '/v1/jobs/{id}/cancel',
  summary: 'Stop a job for good',
  ...oneJob,
  responses: { 200: json(Job, 'The job, cancelled'), 404: notFound, 409: wrongState, ...commonProblems },
});

const retryRoute = createRoute({
  method: 'post',
  path: '/v1/jobs/{id}/retry',
  summary: 'Work on a held or failed job again',
  ...oneJob,
  responses: { 200: json(Job, 'The job, at work again'), 404: notFound, 409: wrongState, ...commonProblems },
});

const reportRoute = createRoute({
  method: 'get',
  path: '/v1/jobs/{id}/report',
  summary: 'What was made, by whom, and how it was checked',
  ...oneJob,
  responses: { 200: json(Report, 'The report as it stands'), 404: notFound, ...commonProblems },
});

export function addJobRoutes(app: OpenAPIHono, ports: ApiPorts): void {
  const detail = (record: JobRecord) =>
    viewJobDetail(record, { progress: ports.farm.progressOf(record.id), machines: ports.farm.machines() });

  app.openapi(submitRoute, async (c) => {
    const submission = c.req.valid('json');
    const idempotencyKey = readIdempotencyKey(c.req.header('Idempotency-Key'), submission);
    const record = await ports.intake.submit(submission, null, idempotencyKey);
    c.header('Location', `/v1/jobs/${record.id}`);
    return c.json(detail(record), 201);
  });

  app.openapi(listRoute, (c) => {
    const { state, batch, limit, cursor } = c.req.valid('query');
    const page = ports.book.list({
      limit,
      ...(state === undefined ? {} : { state }),
      ...(batch === undefined ? {} : { batchId: batch }),
      ...(cursor === undefined ? {} : { cursor }),
    });
    return c.json({ items: [...page.items], nextCursor: page.nextCursor }, 200);
  });

  app.openapi(getRoute, (c) => c.json(detail(findJob(ports, c.req.valid('param').id)), 200));
  app.openapi(cancelRoute, (c) => c.json(detail(ports.control.cancel(c.req.valid('param').id)), 200));
  app.openapi(retryRoute, (c) => c.json(detail(ports.control.retry(c.req.valid('param').id)), 200));

  app.openapi(reportRoute, (c) => {
    const record = findJob(ports, c.req.valid('param').id);
    const context = {
      progress: ports.farm.progressOf(record.id),
      versions: versionsOf(record, ports),
      machines: ports.farm.machines(),
    };
    return c.json(viewReport(record, context), 200);
  });
}

function findJob(ports: ApiPorts, id: string): JobRecord {
  const record = ports.book.get(id);
  if (record === null) throw new MillError('not-found', `There is no job ${id}.`);
  return record;
}

/** Our own version, and the encoder programs of the machines that took part and are still known. */
function versionsOf(record: JobRecord, ports: ApiPorts): Record<string, string> {
  const involved = new Set(record.attempts.map((attempt) => attempt.agentId));
  const tools = ports.farm
    .machines()
    .filter((machine) => involved.has(machine.id))
    .map((machine) => [`ffmpeg on ${machine.name}`, machine.ffmpeg]);
  return { nightmill: ports.version, ...Object.fromEntries(tools) };
}
