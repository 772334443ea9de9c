// A Redis that a test can end and start again at the same address: a socket in a folder of its own.
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Redis } from 'ioredis';
import { waitUntil } from './wait-until.ts';

export type RestartableRedis = {
  /** What ioredis and BullMQ take as an address. */
  readonly url: string;
  /** Kills the server; what it held is lost. */
  stop(): Promise<void>;
  start(): Promise<void>;
  /** Stops it for good. */
  remove(): Promise<void>;
};

export async function startRestartableRedis(): Promise<RestartableRedis> {
  const folder = await mkdtemp(join(tmpdir(), 'nightmill-redis-'));
  const url = join(folder, 'redis.sock');
  let server: ChildProcess | null = null;
  const redis: RestartableRedis = {
    url,
    async start() {
      const place = ['--port', '0', '--unixsocket', url, '--dir', folder];
      server = spawn('redis-server', [...place, '--save', '', '--maxmemory-policy', 'noeviction'], {
        stdio: 'ignore',
      });
      await waitUntil('Redis answers', () => answers(url));
    },
    async stop() {
      if (server === null || server.exitCode !== null || server.signalCode !== null) return;
      const ended = once(server, 'exit');
      server.kill('SIGKILL');
      await ended;
    },
    async remove() {
      await redis.stop();
      await rm(folder, { recursive: true, force: true });
    },
  };
  await redis.start();
  return redis;
}

async function answers(url: string): Promise<boolean> {
  const client = new Redis(url, { lazyConnect: true, retryStrategy: () => null });
  client.on('error', () => {});
  try {
    await client.connect();
    return (await client.ping()) === 'PONG';
  } catch {
    return false;
  } finally {
    client.disconnect();
  }
}
