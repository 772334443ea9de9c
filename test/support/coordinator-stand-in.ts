// The other side of the agents' link for tests of the agent: checks every message by the contract, keeps it, and answers
// as the test says. It decides nothing.
import { mkdir, readFile, writeFile } from 'node:fs/promises';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { serve } from '@hono/node-server';
import { Queue } from 'bullmq';
import { type Context, Hono } from 'hono';
import {
  type AttemptRef,
  type Heartbeat,
  heartbeatSchema,
  type Lease,
  type Progress,
  progressSchema,
  type Registration,
  registrationSchema,
} from '#shared/link.ts';
import {
  type AttemptOutcome,
  attemptOutcomeSchema,
  type GrainReport,
  type GranaryFile,
  grainReportSchema,
  type Task,
} from '#shared/task.ts';

export type StandIn = AsyncDisposable & {
  readonly url: string;
  readonly registrations: Registration[];
  readonly heartbeats: Heartbeat[];
  readonly left: string[];
  readonly progress: Progress[];
  readonly grains: GrainReport[];
  /** By `jobId/attempt`. */
  readonly outcomes: Map<string, AttemptOutcome>;
  readonly uploads: GranaryFile[];
  /** Authorization headers as they came. */
  readonly authorizations: (string | null)[];
  /** What the next messages are answered with. */
  readonly behaviour: Behaviour;
  enqueue(task: Task | object): Promise<void>;
  /** Entries that the queue still holds, in whatever state. */
  queued(): Promise<number>;
};

export type Behaviour = {
  /** Heartbeats are answered 404, as by a coordinator that was restarted, until the next registration. */
  forgetAgent: boolean;
  /** Every message is answered with this status. */
  failWith: number | null;
  stop: AttemptRef[];
  lease: Lease;
  /** Attempts that no longer count, by `jobId/attempt`. */
  stale: Set<string>;
  /** Where the queues are, for the next registration. */
  redisUrl: string;
  markText: string;
};

export type StandInOptions = { readonly redisUrl: string; readonly granary: string; readonly port?: number };

const queuePrefix = 'mill';

export async function startStandIn({ redisUrl, granary, port = 0 }: StandInOptions): Promise<StandIn> {
  const behaviour: Behaviour = {
    forgetAgent: false,
    failWith: null,
    stop: [],
    lease: { proceed: true, end: 1_000_000 },
    stale: new Set(),
    redisUrl,
    markText: 'the mark of this test',
  };
  const kept: Kept = {
    registrations: [],
    heartbeats: [],
    left: [],
    progress: [],
    grains: [],
    outcomes: new Map(),
    uploads: [],
    authorizations: [],
  };
  await mkdir(granary, { recursive: true });
  await writeFile(join(granary, 'mark'), behaviour.markText);
  const app = buildApp(behaviour, kept, granary);
  const server = serve({ fetch: app.fetch, hostname: '127.0.0.1', port });
  await new Promise<void>((resolve) => server.once('listening', () => resolve()));
  const queues = new Map<string, Queue>();
  const queueOf = (agentId: string) => {
    const url = behaviour.redisUrl;
    const known = queues.get(`${url} ${agentId}`);
    if (known) return known;
    const queue = new Queue(`agent-${agentId}`, { connection: { url }, prefix: queuePrefix });
    queue.on('error', () => {});
    queues.set(`${url} ${agentId}`, queue);
    return queue;
  };
  const queueOfNewest = () => queueOf(kept.registrations.at(-1)?.agentId ?? 'nobody');
  return {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}`,
    ...kept,
    behaviour,
    enqueue: async (task) => void (await queueOfNewest().add('task', task)),
    async queued() {
      const counts = await queueOfNewest().getJobCounts();
      return Object.values(counts).reduce((sum, count) => sum + count, 0);
    },
    async [Symbol.asyncDispose]() {
      await Promise.all([...queues.values()].map((queue) => queue.close()));
      await new Promise<void>((resolve) => {
        server.close(() => resolve());
        if ('closeAllConnections' in server) server.closeAllConnections();
      });
    },
  };
}

type Kept = Pick<
  StandIn,
  'registrations' | 'heartbeats' | 'left' | 'progress' | 'grains' | 'outcomes' | 'uploads' | 'authorizations'
>;

function buildApp(behaviour: Behaviour, kept: Kept, granary: string): Hono {
  const app = new Hono();
  // What breaks the contract is the agent's fault, and it is told so.
  app.onError((error, c) => problem(c, 400, error.message));
  app.use(async (c, next) => {
    kept.authorizations.push(c.req.header('authorization') ?? null);
    if (behaviour.failWith === null) return next();
    return problem(c, behaviour.failWith, 'the test wants it so');
  });
  app.post('/v1/agents', async (c) => {
    const registration = registrationSchema.parse(await c.req.json());
    kept.registrations.push(registration);
    behaviour.forgetAgent = false;
    return c.json({
      redisUrl: behaviour.redisUrl,
      queuePrefix,
      queueName: `agent-${registration.agentId}`,
      heartbeatSeconds: 0.1,
      granary: { path: granary, markFile: 'mark', markText: behaviour.markText },
    });
  });
  app.post('/v1/agents/:agentId/heartbeat', async (c) => {
    if (behaviour.forgetAgent) return problem(c, 404, 'no such machine');
    kept.heartbeats.push(heartbeatSchema.parse(await c.req.json()));
    return c.json({ stop: behaviour.stop });
  });
  app.post('/v1/agents/:agentId/leave', (c) => {
    kept.left.push(c.req.param('agentId'));
    return c.body(null, 204);
  });
  addAttemptRoutes(app, behaviour, kept);
  addFileRoutes(app, kept, granary);
  return app;
}

function addAttemptRoutes(app: Hono, behaviour: Behaviour, kept: Kept): void {
  const keyOf = (c: Context) => `${c.req.param('jobId')}/${c.req.param('attempt')}`;
  app.use('/v1/attempts/:jobId/:attempt/*', (c, next) =>
    behaviour.stale.has(keyOf(c))
      ? Promise.resolve(problem(c, 409, 'this attempt no longer counts'))
      : next(),
  );
  app.post('/v1/attempts/:jobId/:attempt/progress', async (c) => {
    kept.progress.push(progressSchema.parse(await c.req.json()));
    return c.json(behaviour.lease);
  });
  app.post('/v1/attempts/:jobId/:attempt/grains', async (c) => {
    kept.grains.push(grainReportSchema.parse(await c.req.json()));
    return c.json(behaviour.lease);
  });
  app.post('/v1/attempts/:jobId/:attempt/outcome', async (c) => {
    kept.outcomes.set(keyOf(c), attemptOutcomeSchema.parse(await c.req.json()));
    return c.body(null, 204);
  });
}

function addFileRoutes(app: Hono, kept: Kept, granary: string): void {
  app.put('/v1/attempts/:jobId/:attempt/files/:name', async (c) => {
    const { jobId, attempt, name } = c.req.param();
    const body = Buffer.from(await c.req.arrayBuffer());
    if (body.length !== Number(c.req.header('content-length'))) return problem(c, 400, 'the length is wrong');
    const file = `${jobId}/a${attempt}-${name}`;
    await mkdir(join(granary, jobId), { recursive: true });
    await writeFile(join(granary, file), body);
    const stored: GranaryFile = {
      file,
      bytes: body.length,
      hash: { algorithm: 'xxh128', hex: c.req.header('x-content-xxh128') ?? '' },
    };
    kept.uploads.push(stored);
    return c.json(stored, 201);
  });
  app.get('/v1/granary/*', async (c) => {
    const bytes = await readFile(join(granary, c.req.path.slice('/v1/granary/'.length))).catch(() => null);
    return bytes === null ? problem(c, 404, 'no such file') : c.body(new Uint8Array(bytes));
  });
}

function problem(c: Context, status: number, detail: string): Response {
  return c.json({ type: 'about:blank', title: 'No', status, detail }, status as 400);
}
