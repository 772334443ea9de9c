// A whole farm on this machine for the length of one call: a coordinator and some agents, reachable only from here and
// only with a token that nobody else knows.
import { randomBytes } from 'node:crypto';
import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import envPaths from 'env-paths';
import { type Client, createClient } from '../client.ts';
import { CommandError, exitCodes } from '../exit-codes.ts';
import { followSignal } from '../follow-signal.ts';
import { type ChildProgram, startChild } from './child-program.ts';
import type { LocalVolume, OnceRequest } from './once-request.ts';

export type LocalFarm = {
  readonly client: Client;
  /** Rejects when a part of the farm ends before it is stopped. */
  readonly broken: Promise<never>;
  /** Ends everything, and removes the data unless its folder was named. */
  stop(): Promise<void>;
};

const coordinatorProgram = fileURLToPath(new URL('../../main.ts', import.meta.url));
const agentProgram = fileURLToPath(new URL('../../../agent/main.ts', import.meta.url));
const startLimitMs = 60_000;

type Ground = {
  readonly folder: string;
  readonly cache: string;
  readonly url: string;
  readonly environment: NodeJS.ProcessEnv;
};

/** The agents go on starting while the coordinator is ready already. `signal` breaks the start off. */
export async function startLocalFarm(request: OnceRequest, signal: AbortSignal): Promise<LocalFarm> {
  const folder = request.dataFolder ?? (await mkdtemp(join(tmpdir(), 'nightmill-once-')));
  const children: ChildProgram[] = [];
  using untilStarted = followSignal(signal);
  const stop = () => stopAll(children, request.dataFolder === null ? folder : null);
  try {
    const { ground, port, token } = await prepare(folder);
    children.push(await startCoordinator(request, ground, port));
    for (let number = 1; number <= request.agents; number += 1) {
      children.push(await startAgent(request, ground, number));
    }
    const broken = Promise.race(children.map(breakOf));
    // Told to whoever waits for it; nobody may be waiting yet.
    broken.catch(() => {});
    // Not broken off by Ctrl-C: the work has to be called off then.
    const client = createClient({ url: ground.url, token, signal: new AbortController().signal });
    await Promise.race([untilReady(client, untilStarted.signal), broken]);
    return { client, broken, stop };
  } catch (error) {
    await stop();
    throw error;
  }
}

async function prepare(folder: string): Promise<{ ground: Ground; port: number; token: string }> {
  const cache = envPaths('nightmill', { suffix: '' }).cache;
  await Promise.all([mkdir(folder, { recursive: true }), mkdir(cache, { recursive: true })]);
  const port = await freePort();
  const token = randomBytes(16).toString('hex');
  // Settings of a farm that this user also runs are not meant for this one.
  const inherited = Object.entries(process.env).filter(([name]) => !name.startsWith('NIGHTMILL_'));
  const environment = {
    ...Object.fromEntries(inherited),
    NIGHTMILL_TOKEN: token,
    // Programs that were compiled once start in a fraction of the time.
    NODE_COMPILE_CACHE: join(cache, 'compiled'),
  };
  return { ground: { folder, cache, url: `http://127.0.0.1:${port}`, environment }, port, token };
}

async function startCoordinator(request: OnceRequest, ground: Ground, port: number): Promise<ChildProgram> {
  const config = {
    listen: { host: '127.0.0.1', port },
    dataFolder: ground.folder,
    volumes: Object.fromEntries(volumesOf(request).map(({ name, root }) => [name, root])),
    // The agents of this call do the desk work, too.
    helperAgent: false,
    logFormat: 'json',
  };
  const file = join(ground.folder, 'once.json');
  await writeFile(file, JSON.stringify(config, null, 2));
  return startChild({
    name: 'the coordinator',
    program: coordinatorProgram,
    words: ['--config', file, '--end-with-parent'],
    environment: ground.environment,
    logFile: join(ground.folder, 'coordinator.log'),
  });
}

function startAgent(request: OnceRequest, ground: Ground, number: number): Promise<ChildProgram> {
  const name = `agent-${number}`;
  return startChild({
    name,
    program: agentProgram,
    words: [
      `--coordinator=${ground.url}`,
      `--name=${name}`,
      `--state=${join(ground.folder, 'agents')}`,
      // What was measured on this machine stays true for later calls.
      `--calibration=${join(ground.cache, 'calibration')}`,
      `--formats=${request.format.name}`,
      '--encode-places=1',
      '--log-format=json',
      '--end-with-parent',
      ...volumesOf(request).map(({ name: volume, root }) => `--volume=${volume}=${root}`),
    ],
    environment: ground.environment,
    logFile: join(ground.folder, `${name}.log`),
  });
}

function volumesOf({ sources, destination }: OnceRequest): LocalVolume[] {
  const volumes = [...sources.map((source) => source.volume), destination];
  return [...new Map(volumes.map((volume) => [volume.name, volume])).values()];
}

async function untilReady(client: Client, signal: AbortSignal): Promise<void> {
  const limitMs = performance.now() + startLimitMs;
  while (performance.now() < limitMs) {
    const ready = await client.get('/readyz').then(
      () => true,
      () => false,
    );
    if (ready) return;
    await sleep(20, undefined, { signal });
  }
  throw new CommandError(
    exitCodes.workFailed,
    `the coordinator was not ready after ${startLimitMs / 1000} s`,
  );
}

async function breakOf(child: ChildProgram): Promise<never> {
  const how = await child.ended;
  throw new CommandError(
    exitCodes.workFailed,
    `${child.name} ${how}; its last words:\n${await child.lastWords()}`,
  );
}

/** Agents first, so that they can take their leave. `remove` is deleted when everything is gone. */
async function stopAll(children: readonly ChildProgram[], remove: string | null): Promise<void> {
  const [coordinator, ...agents] = children;
  await Promise.all(agents.map((agent) => agent.stop()));
  await coordinator?.stop();
  if (remove !== null) await rm(remove, { recursive: true, force: true, maxRetries: 5 });
}

function freePort(): Promise<number> {
  return new Promise((resolve, reject) => {
    const server = createServer();
    server.once('error', reject);
    server.listen(0, '127.0.0.1', () => {
      const address = server.address();
      const port = typeof address === 'object' && address !== null ? address.port : 0;
      server.close(() => resolve(port));
    });
  });
}
