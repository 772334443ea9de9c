// The composition root of the coordinator: opens the ledger, Redis and the granary, wires the rooms, serves, and takes
// everything down again in reverse order.
import { randomBytes } from 'node:crypto';
import { join } from 'node:path';
import { serve } from '@hono/node-server';
import type { Logger } from 'pino';
import { toFailure } from '#shared/failure.ts';
import { MillError } from '#shared/errors.ts';
import { parseVolumePath } from '#shared/volume-path.ts';
import { createApp } from './api/app.ts';
import { reportBeside } from './api/views/report-view.ts';
import type { Config } from './config.ts';
import { codecsOnFarm } from './dispatch/codecs-on-farm.ts';
import { createAgentLink } from './dispatch/agent-link.ts';
import { Dispatcher } from './dispatch/dispatcher.ts';
import { openGranary } from './dispatch/granary.ts';
import { keptFiles } from './dispatch/granary-kept.ts';
import { createLiveProgress } from './dispatch/live-progress.ts';
import { createMachines, toMachine } from './dispatch/machines.ts';
import { loadOf } from './dispatch/open-work.ts';
import { openQueues } from './dispatch/queues.ts';
import { checkRedis } from './dispatch/redis-ask.ts';
import { type RedisServer, startRedisServer } from './dispatch/redis-server.ts';
import { promisedBytes, spaceProblem } from './dispatch/space.ts';
import { sweepRestingJobs } from './dispatch/sweep.ts';
import { lookForLost } from './dispatch/watchdog.ts';
import { startHelperAgent } from './helper-agent.ts';
import { createControl } from './intake/control.ts';
import { createIntake } from './intake/submit.ts';
import { freeBytes } from './intake/volume-files.ts';
import { openJobBook } from './ledger/open-job-book.ts';

export type RunningCoordinator = { readonly url: string; stop(): Promise<void> };

const queuePrefix = 'nightmill';
const tickMs = 1_000;

export async function startCoordinator(config: Config, log: Logger, version: string): Promise<RunningCoordinator> {
  await using opened = new AsyncDisposableStack();
  const clock = () => Date.now();
  const reportFault = (error: unknown, where = 'coordinator') => log.error({ failure: toFailure(error, where) }, 'a fault nobody foresaw');
  const book = openJobBook(config.dataFolder, { clock, reportFault });
  opened.defer(() => book.close());
  const [granary, redis] = await Promise.all([openGranary(join(config.dataFolder, 'granary')), openRedis(config, log)]);
  opened.defer(() => redis.stop());
  await granary.sweepOrphans((jobId) => keptFiles(book.get(jobId)));
  const queues = await openQueues({ url: redis.url, prefix: queuePrefix });
  opened.defer(() => queues.close());

  const machines = createMachines(config.agents.lostAfterSeconds * 1000);
  const live = createLiveProgress();
  const volumes = config.volumes;
  const dispatcher = new Dispatcher({
    ...{ book, machines, queues, clock, log },
    options: config.plan,
    spaceProblem: (record) =>
      spaceProblem(record, {
        granaryFree: () => granary.freeBytes(),
        destinationFree: (deliverable) => freeBytes(volumes, parseVolumePath(deliverable)),
        promised: () => promisedBytes(book.working()),
      }),
    reportText: (record) => reportBeside(record, { progress: live.of(record.id), versions: versionsOf(version, machines.all()) }),
  });
  const wake = () => dispatcher.wake();
  book.onEvent((_, record) => {
    if (sweepRestingJobs(record, granary, reportFault)) live.forget(record.id);
  });
  const link = createAgentLink({
    ...{ book, machines, granary, wake, clock },
    noteProgress: (ref, progress) => live.note(ref, progress),
    replyFor: (agentId, host) => ({
      redisUrl: redis.urlFor(host),
      queuePrefix,
      queueName: queues.queueName(agentId),
      heartbeatSeconds: config.agents.heartbeatSeconds,
      granary: { path: granary.path, markFile: granary.markFile, markText: granary.markText },
    }),
  });
  const app = createApp({
    ...{ book, link, volumes, clock, version, reportFault },
    intake: createIntake({ book, formats: config.formats, volumes, newJobId, codecsOnFarm: () => codecsOnFarm(machines.ready()), wake }),
    control: createControl(book, wake),
    farm: {
      machines: () => {
        const { encode } = loadOf(book.working());
        return machines.all().map((machine) => toMachine(machine, encode.get(machine.registration.agentId) ?? 0));
      },
      progressOf: (jobId) => live.of(jobId),
      onProgress: (listener) => live.onProgress(listener),
      notReady: () => null,
    },
    formats: config.formats,
    token: config.token,
  });

  const server = await listen(app.fetch, config.listen);
  opened.defer(() => server.stop());
  const startedMs = clock();
  const tick = setInterval(() => {
    lookForLost({ book, machines, queues, startedMs, lostAfterMs: config.agents.lostAfterSeconds * 1000 }, clock());
    wake();
  }, tickMs);
  opened.defer(async () => {
    clearInterval(tick);
    await dispatcher.idle();
  });
  if (config.helperAgent) {
    const helper = startHelperAgent({ url: server.url, token: config.token, stateFolder: join(config.dataFolder, 'helper'), volumes, log });
    opened.defer(() => helper.stop());
  }
  wake();
  log.info({ url: server.url, dataFolder: config.dataFolder, jobs: book.working().length }, 'coordinator ready');
  const resources = opened.move();
  return { url: server.url, stop: () => resources.disposeAsync() };
}

type Redis = Pick<RedisServer, 'url' | 'urlFor' | 'stop'>;

async function openRedis(config: Config, log: Logger): Promise<Redis> {
  const url = config.redisUrl;
  if (url === null) return startRedisServer({ folder: join(config.dataFolder, 'redis'), bind: config.listen.host, log });
  for (const warning of await checkRedis(url)) log.warn({ warning }, 'the given Redis is not set up well');
  return { url, urlFor: () => url, stop: async () => {} };
}

function newJobId(): string {
  // Time first, so that ids sort by age; random bits after it, so that no two are equal.
  return `j${Date.now().toString(36)}${randomBytes(5).readUIntBE(0, 5).toString(36).padStart(8, '0')}`;
}

function versionsOf(version: string, machines: ReturnType<ReturnType<typeof createMachines>['all']>): Record<string, string> {
  const ffmpeg = machines.map(({ registration }) => [`ffmpeg on ${registration.name}`, registration.ffmpeg]);
  return { nightmill: version, ...Object.fromEntries(ffmpeg) };
}

type Listening = { readonly url: string; stop(): Promise<void> };

function listen(fetch: (request: Request) => Response | Promise<Response>, { host, port }: Config['listen']): Promise<Listening> {
  return new Promise((resolve, reject) => {
    const server = serve({ fetch, hostname: host, port }, (address) => {
      const shown = address.family === 'IPv6' ? `[${address.address}]` : address.address;
      resolve({ url: `http://${shown}:${address.port}`, stop: () => stopServer(server) });
    });
    server.on('error', (error: NodeJS.ErrnoException) => {
      reject(new MillError('bad-config', `cannot listen on ${host}:${port}: ${error.code ?? error.message}; choose another address with --listen`, { cause: error }));
    });
  });
}

function stopServer(server: ReturnType<typeof serve>): Promise<void> {
  return new Promise((resolve) => {
    server.close(() => resolve());
    // Event streams never end by themselves.
    if ('closeAllConnections' in server) server.closeAllConnections();
  });
}
