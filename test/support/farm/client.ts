// What an editor's program does over HTTP: submits, looks, cancels. Answers are checked by the published schemas.
import { z } from 'zod';
import {
  batchSchema,
  type JobDetail,
  type JobSummary,
  jobDetailSchema,
  jobSummarySchema,
  type Machine,
  machineSchema,
  type Problem,
  pageSchema,
  problemSchema,
  type Report,
  reportSchema,
  type Submission,
} from '#shared/job.ts';

export type NewJob = Pick<Submission, 'source' | 'format' | 'to'> & Partial<Submission>;
export type Refusal = Problem & { readonly contentType: string | null };

export type FarmClient = {
  /** Throws when the submission is refused. */
  submit(job: NewJob, idempotencyKey?: string): Promise<JobDetail>;
  /** The problem document that refuses it. Throws when it is taken. */
  refusalOf(job: unknown, idempotencyKey?: string): Promise<Refusal>;
  submitBatch(jobs: readonly NewJob[]): Promise<z.infer<typeof batchSchema>>;
  job(id: string): Promise<JobDetail>;
  /** All jobs, newest first. */
  jobs(): Promise<readonly JobSummary[]>;
  report(id: string): Promise<Report>;
  cancel(id: string): Promise<JobDetail>;
  retry(id: string): Promise<JobDetail>;
  machines(): Promise<readonly Machine[]>;
  isReady(): Promise<boolean>;
};

const jobPageSchema = pageSchema(jobSummarySchema);
const machineListSchema = z.strictObject({ items: z.array(machineSchema) });
const answerLimitMs = 60_000;

export function createFarmClient(url: string): FarmClient {
  const ask = (path: string, init: RequestInit = {}): Promise<Response> =>
    fetch(new URL(path, url), { ...init, signal: AbortSignal.timeout(answerLimitMs) });
  const post = (path: string, body?: unknown, key?: string): Promise<Response> =>
    ask(path, {
      method: 'POST',
      headers: {
        ...(body === undefined ? {} : { 'Content-Type': 'application/json' }),
        ...(key === undefined ? {} : { 'Idempotency-Key': key }),
      },
      body: body === undefined ? null : JSON.stringify(body),
    });
  return {
    submit: async (job, key) => read(await post('/v1/jobs', job, key), jobDetailSchema),
    refusalOf: async (job, key) => readRefusal(await post('/v1/jobs', job, key)),
    submitBatch: async (jobs) => read(await post('/v1/batches', { jobs }), batchSchema),
    job: async (id) => read(await ask(`/v1/jobs/${id}`), jobDetailSchema),
    async jobs() {
      const found: JobSummary[] = [];
      let cursor: string | null = '';
      while (cursor !== null) {
        const from: string = cursor === '' ? '' : `&cursor=${encodeURIComponent(cursor)}`;
        const { items, nextCursor } = await read(await ask(`/v1/jobs?limit=200${from}`), jobPageSchema);
        found.push(...items);
        cursor = nextCursor;
      }
      return found;
    },
    report: async (id) => read(await ask(`/v1/jobs/${id}/report`), reportSchema),
    cancel: async (id) => read(await post(`/v1/jobs/${id}/cancel`), jobDetailSchema),
    retry: async (id) => read(await post(`/v1/jobs/${id}/retry`), jobDetailSchema),
    machines: async () => (await read(await ask('/v1/machines'), machineListSchema)).items,
    isReady: () =>
      ask('/readyz').then(
        (response) => response.ok,
        () => false,
      ),
  };
}

async function read<Schema extends z.ZodType>(response: Response, schema: Schema): Promise<z.output<Schema>> {
  const text = await response.text();
  if (!response.ok) throw new Error(`${response.url} answered ${response.status}: ${text}`);
  return schema.parse(JSON.parse(text));
}

async function readRefusal(response: Response): Promise<Refusal> {
  const text = await response.text();
  if (response.ok) throw new Error(`${response.url} took what it should refuse: ${text}`);
  return { ...problemSchema.parse(JSON.parse(text)), contentType: response.headers.get('Content-Type') };
}
