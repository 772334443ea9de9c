// The composition root of the coordinator: opens the ledger, Redis and the granary, wires the rooms, serves, and takes
// everything down again in reverse order.
import { join } from 'node:path';
import { serve } from '@hono/node-server';
import type { Logger } from 'pino';
import { MillError } from '#shared/errors.ts';
import { toFailure } from '#shared/failure.ts';
import { createApp } from './api/app.ts';
import type { Config } from './config.ts';
import { openGranary } from './dispatch/granary.ts';
import { keptFiles } from './dispatch/granary-kept.ts';
import { openQueues } from './dispatch/queues.ts';
import { checkRedis } from './dispatch/redis-ask.ts';
import { type RedisServer, startRedisServer } from './dispatch/redis-server.ts';
import { sweepLatecomers } from './dispatch/sweep.ts';
import { lookForLost } from './dispatch/watchdog.ts';
import { startHelperAgent } from './helper-agent.ts';
import { openJobBook } from './ledger/open-job-book.ts';
import { type Opened, wireRooms } from './wire-rooms.ts';

export type RunningCoordinator = { readonly url: string; stop(): Promise<void> };

const queuePrefix = 'nightmill';
const tickMs = 1_000;
const sweepMs = 5_000;

export async function startCoordinator(
  config: Config,
  log: Logger,
  version: string,
): Promise<RunningCoordinator> {
  await using resources = new AsyncDisposableStack();
  const opened = await openResources(config, log, resources);
  const rooms = wireRooms({ config, log, version, opened, queuePrefix });
  const server = await listen(createApp(rooms.ports).fetch, config.listen);
  resources.defer(() => server.stop());
  startTicking({ config, opened, rooms }, resources);
  if (config.helperAgent) {
    const stateFolder = join(config.dataFolder, 'helper');
    const helper = startHelperAgent({
      url: server.url,
      token: config.token,
      stateFolder,
      volumes: config.volumes,
      log,
    });
    resources.defer(() => helper.stop());
  }
  rooms.dispatcher.wake();
  const jobs = opened.book.working().length;
  log.info({ url: server.url, dataFolder: config.dataFolder, jobs }, 'coordinator ready');
  const kept = resources.move();
  return { url: server.url, stop: () => kept.disposeAsync() };
}

/** The ledger comes first: it holds the data folder for this process. */
async function openResources(config: Config, log: Logger, resources: AsyncDisposableStack): Promise<Opened> {
  const clock = () => Date.now();
  const reportFault = (error: unknown, where = 'coordinator') =>
    log.error({ failure: toFailure(error, where) }, 'a fault nobody foresaw');
  const book = openJobBook(config.dataFolder, { clock, reportFault });
  resources.defer(() => book.close());
  const [granary, redis] = await Promise.all([
    openGranary(join(config.dataFolder, 'granary')),
    openRedis(config, log),
  ]);
  resources.defer(() => redis.stop());
  await granary.sweepOrphans((jobId) => keptFiles(book.get(jobId)));
  const queues = await openQueues({ url: redis.url, prefix: queuePrefix });
  resources.defer(() => queues.close());
  return { book, granary, redis, queues, clock, reportFault };
}

async function openRedis(
  { redisUrl: url, dataFolder, listen: { host: bind } }: Config,
  log: Logger,
): Promise<Pick<RedisServer, 'url' | 'urlFor' | 'stop'>> {
  if (url === null) return startRedisServer({ folder: join(dataFolder, 'redis'), bind, log });
  for (const warning of await checkRedis(url)) log.warn({ warning }, 'the given Redis is not set up well');
  return { url, urlFor: () => url, stop: async () => {} };
}

type Ticking = { config: Config; opened: Opened; rooms: ReturnType<typeof wireRooms> };

/** Silence is only noticed by looking. */
function startTicking({ config, opened, rooms }: Ticking, resources: AsyncDisposableStack): void {
  const { book, queues, granary, clock, reportFault } = opened;
  const { machines, dispatcher, readiness } = rooms;
  const startedMs = clock();
  const lostAfterMs = config.agents.lostAfterSeconds * 1000;
  const tick = setInterval(() => {
    lookForLost({ book, machines, queues, startedMs, lostAfterMs }, clock());
    void readiness.look();
    dispatcher.wake();
  }, tickMs);
  let sweeping = Promise.resolve();
  const sweep = setInterval(() => {
    sweeping = sweeping.then(() => sweepLatecomers(book, granary)).catch(reportFault);
  }, sweepMs);
  resources.defer(async () => {
    clearInterval(tick);
    clearInterval(sweep);
    await Promise.all([dispatcher.idle(), sweeping]);
  });
}

type Listening = { readonly url: string; stop(): Promise<void> };

function listen(
  fetch: (request: Request) => Response | Promise<Response>,
  { host, port }: Config['listen'],
): Promise<Listening> {
  return new Promise((resolve, reject) => {
    const server = serve({ fetch, hostname: host, port }, (address) => {
      const shown = address.family === 'IPv6' ? `[${address.address}]` : address.address;
      resolve({ url: `http://${shown}:${address.port}`, stop: () => stopServer(server) });
    });
    server.on('error', (error: NodeJS.ErrnoException) => {
      const message = `cannot listen on ${host}:${port}: ${error.code ?? error.message}; choose another address with --listen`;
      reject(new MillError('bad-config', message, { cause: error }));
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
