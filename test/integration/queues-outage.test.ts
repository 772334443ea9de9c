// The queues while Redis is away, and after it came back or lost everything.
import { expect, it, onTestFinished, vi } from 'vitest';
import type { Task } from '#shared/task.ts';
import { openQueues, type Queues } from '../../coordinator/dispatch/queues.ts';
import { readKeepsake } from '../../coordinator/dispatch/redis-keepsake.ts';
import { setDataAside } from '../../coordinator/dispatch/redis-salvage.ts';
import { type RedisServer, startRedisServer } from '../../coordinator/dispatch/redis-server.ts';
import { tempFolder } from '../support/temp-folder.ts';

const task: Task = { kind: 'inspect', jobId: 'jsample001', attempt: 1, path: 'rushes:a.mov' };
const entry = { jobId: 'jsample001', attempt: 1, active: false };

it('fail fast while Redis is away and work again when it is back', async () => {
  const folder = await tempFolder();
  const first = await start(folder);
  const queues = await open(first.url);
  await queues.enqueue('north', task);
  await first.stop();

  for (const call of [
    () => queues.enqueue('south', task),
    () => queues.pending('north'),
    () => queues.ping(),
  ]) {
    const error = await call().catch((thrown: unknown) => thrown);
    expect(error).toMatchObject({ code: 'internal', message: expect.stringContaining('it is tried again') });
    // Refused at once, not given up after a wait.
    expect(String(error)).not.toContain('no answer within');
  }

  const second = await start(folder);
  expect(second.url).toBe(first.url);
  await backAgain(queues);
  expect(await queues.pending('north')).toEqual([entry]);
  await queues.enqueue('south', task);
  expect(await queues.pending('south')).toEqual([entry]);
});

it('are filled again after Redis lost everything', async () => {
  const folder = await tempFolder();
  const first = await start(folder);
  const queues = await open(first.url);
  await queues.enqueue('north', task);
  await first.stop();
  await setDataAside(folder);
  await start(folder);
  await backAgain(queues);
  expect(await queues.pending('north')).toEqual([]);
  await queues.enqueue('north', task);
  expect(await queues.pending('north')).toEqual([entry]);
});

it('come back when Redis is killed under them', async () => {
  const folder = await tempFolder();
  const queues = await open((await start(folder)).url);
  await queues.enqueue('north', task);
  const pid = await pidIn(folder);
  process.kill(pid, 'SIGKILL');
  await vi.waitFor(async () => expect(await pidIn(folder)).not.toBe(pid), { timeout: 20_000 });
  await backAgain(queues);
  await queues.enqueue('north', task);
  expect(await queues.pending('north')).toEqual([entry]);
});

it('can be closed while Redis is away', async () => {
  const server = await start(await tempFolder());
  const queues = await openQueues({ url: server.url, prefix: 'mill' });
  await queues.enqueue('north', task);
  await server.stop();
  await expect(queues.close()).resolves.toBeUndefined();
});

async function start(folder: string): Promise<RedisServer> {
  const server = await startRedisServer({
    folder,
    bind: '127.0.0.1',
    log: { warn: () => {}, error: () => {} },
  });
  onTestFinished(() => server.stop());
  return server;
}

async function open(url: string): Promise<Queues> {
  const queues = await openQueues({ url, prefix: 'mill' });
  onTestFinished(() => queues.close());
  return queues;
}

async function pidIn(folder: string): Promise<number> {
  return (await readKeepsake(folder))?.pid ?? expect.unreachable('there is no keepsake');
}

async function backAgain(queues: Queues): Promise<void> {
  await vi.waitFor(() => queues.ping(), { timeout: 20_000, interval: 100 });
}
