// A real Redis for tests: a container where an engine answers, else the redis-server of this machine. The same tests
// run either way.

import { mkdtemp, rm } from 'node:fs/promises';
import { get } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { startRedisServer } from '../../coordinator/dispatch/redis-server.ts';

export type TestRedis = { readonly kind: 'container' | 'local'; readonly url: string; stop(): Promise<void> };

const image = 'redis:7-alpine';
const engineTimeoutMs = 1_000;

export async function startRedis(): Promise<TestRedis> {
  const redis = ((await engineAnswers()) && (await startContainer())) || (await startLocal());
  console.info(
    `tests use Redis from ${redis.kind === 'container' ? `the container image ${image}` : 'this machine'}`,
  );
  return redis;
}

async function engineAnswers(): Promise<boolean> {
  const { promise, resolve } = Promise.withResolvers<boolean>();
  const request = get({ ...engineAddress(), path: '/_ping', timeout: engineTimeoutMs }, (response) => {
    response.resume();
    resolve(response.statusCode === 200);
  });
  request.on('timeout', () => request.destroy());
  request.on('close', () => resolve(false));
  request.on('error', () => resolve(false));
  return promise;
}

function engineAddress(): { socketPath: string } | { host: string; port: number } {
  const url = process.env['DOCKER_HOST'] ?? '';
  if (url.startsWith('tcp://'))
    return { host: new URL(url).hostname, port: Number(new URL(url).port || 2375) };
  if (url.startsWith('unix://')) return { socketPath: url.slice('unix://'.length) };
  return { socketPath: process.platform === 'win32' ? '//./pipe/docker_engine' : '/var/run/docker.sock' };
}

/** Null when the engine can't bring the image, without a network for example. */
async function startContainer(): Promise<TestRedis | null> {
  // The helper container that cleans up after killed runs needs more rights than many engines give.
  process.env['TESTCONTAINERS_RYUK_DISABLED'] = 'true';
  const { RedisContainer } = await import('@testcontainers/redis');
  try {
    const container = await new RedisContainer(image).start();
    return {
      kind: 'container',
      url: container.getConnectionUrl(),
      stop: async () => void (await container.stop()),
    };
  } catch (error) {
    console.info(`no Redis from a container: ${String(error)}`);
    return null;
  }
}

async function startLocal(): Promise<TestRedis> {
  const folder = await mkdtemp(join(tmpdir(), 'nightmill-redis-'));
  const quiet = { warn: () => {}, error: () => {} };
  const server = await startRedisServer({ folder, bind: '127.0.0.1', log: quiet });
  return {
    kind: 'local',
    url: server.url,
    async stop() {
      await server.stop();
      await rm(folder, { recursive: true, force: true });
    },
  };
}
