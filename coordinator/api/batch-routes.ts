// Batches: many submissions in one request. Each is taken or refused for itself.
import { createHash, randomUUID } from 'node:crypto';
import { createRoute, type OpenAPIHono, z } from '@hono/zod-openapi';
import { MillError } from '#shared/errors.ts';
import { type JobSummary, type Problem, type Submission, toProblem } from '#shared/job.ts';
import { summariseJob } from '../ledger/job-summary.ts';
import type { ApiPorts, IdempotencyKey } from './api-ports.ts';
import { Batch, BatchSubmission, commonProblems, idParam, json, problem } from './documented.ts';
import { readIdempotencyKey } from './idempotency-key.ts';
import { answerProblem } from './problems.ts';

const tags = ['jobs'];

const submitRoute = createRoute({
  method: 'post',
  path: '/v1/batches',
  tags,
  summary: 'Submit up to a thousand sources at once',
  request: {
    headers: z.object({ 'idempotency-key': z.string().optional() }),
    body: { required: true, content: { 'application/json': { schema: BatchSubmission } } },
  },
  responses: {
    201: {
      ...json(Batch, 'The jobs that were taken, and the submissions that were not'),
      headers: z.object({ Location: z.string().openapi({ description: 'Address of the batch' }) }),
    },
    400: problem('The request is not valid'),
    413: problem('The request is too large'),
    415: problem('The request is not JSON'),
    422: problem(
      'Nothing of it was taken; `errors` says why for each position. Or the key was used for another request',
    ),
    ...commonProblems,
  },
});

const getRoute = createRoute({
  method: 'get',
  path: '/v1/batches/{id}',
  tags,
  summary: 'The jobs of one batch',
  request: { params: idParam },
  responses: {
    200: json(Batch, 'Its jobs; `refused` is told only in the answer to the submission'),
    404: problem('There is no such batch'),
    ...commonProblems,
  },
});

export function addBatchRoutes(app: OpenAPIHono, ports: ApiPorts): void {
  app.openapi(submitRoute, async (c) => {
    const request = c.req.valid('json');
    const key = readIdempotencyKey(c.req.header('Idempotency-Key'), request);
    if (key !== null) refuseReusedKey(ports, key, request.jobs.length);
    const id = idOfBatch(key);
    const taken = await submitAll(ports, request.jobs, { id, key });
    if (taken.jobs.length === 0) return answerProblem(c, nothingTaken(taken.refused)) as never;
    c.header('Location', `/v1/batches/${id}`);
    return c.json({ id, ...taken }, 201);
  });

  app.openapi(getRoute, (c) => {
    const { id } = c.req.valid('param');
    const jobs = listBatch(ports, id);
    if (jobs.length === 0) throw new MillError('not-found', `There is no batch ${id}.`);
    return c.json({ id, jobs, refused: [] }, 200);
  });
}

type Taken = { readonly jobs: JobSummary[]; readonly refused: { position: number; problem: Problem }[] };

async function submitAll(
  ports: ApiPorts,
  submissions: readonly Submission[],
  batch: { id: string; key: IdempotencyKey | null },
): Promise<Taken> {
  const taken: Taken = { jobs: [], refused: [] };
  // One after another, so that two of equal deliverables meet in order and the second learns of the first.
  for (const [position, submission] of submissions.entries()) {
    try {
      const record = await ports.intake.submit(submission, batch.id, keyAt(batch.key, position));
      taken.jobs.push(summariseJob(record));
    } catch (error) {
      if (!(error instanceof MillError) || error.code === 'internal') throw error;
      taken.refused.push({ position, problem: toProblem(error.code, error.message) });
    }
  }
  return taken;
}

/** Derived from the key where there is one, so that a repeated request joins the batch that it made the first time. */
function idOfBatch(key: IdempotencyKey | null): string {
  const text = key === null ? randomUUID() : `batch of ${key.key}`;
  return `b${createHash('sha256').update(text).digest('hex').slice(0, 20)}`;
}

function keyAt(key: IdempotencyKey | null, position: number): IdempotencyKey | null {
  return key === null ? null : { key: `${key.key} #${position}`, fingerprint: key.fingerprint };
}

function refuseReusedKey(ports: ApiPorts, key: IdempotencyKey, positions: number): void {
  for (let position = 0; position < positions; position += 1) {
    const known = ports.book.findByKey(`${key.key} #${position}`);
    if (known !== null && known.fingerprint !== key.fingerprint) {
      throw new MillError(
        'key-reused',
        `The Idempotency-Key ${key.key} was used for another batch; take a new one.`,
      );
    }
  }
}

function nothingTaken(refused: Taken['refused']): Problem {
  const [first] = refused;
  const base = first?.problem ?? toProblem('bad-request', 'The batch is empty.');
  const errors = refused.map((entry) => ({ path: `jobs.${entry.position}`, message: entry.problem.detail }));
  // The answer as a whole is 422 whatever the reasons are: the request was understood and nothing came of it.
  return { ...base, status: 422, detail: `Nothing was taken. ${base.detail}`, errors };
}

function listBatch(ports: ApiPorts, batchId: string): JobSummary[] {
  const jobs: JobSummary[] = [];
  let cursor: string | null = null;
  do {
    const page = ports.book.list({ batchId, limit: 200, ...(cursor === null ? {} : { cursor }) });
    jobs.push(...page.items);
    cursor = page.nextCursor;
  } while (cursor !== null);
  return jobs;
}
