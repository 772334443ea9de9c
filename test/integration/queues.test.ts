// The queues on a real Redis, with BullMQ's own worker on the other side.
import { randomUUID } from 'node:crypto';
import { Worker } from 'bullmq';
import { afterAll, beforeAll, describe, expect, it, onTestFinished, vi } from 'vitest';
import type { Task } from '#shared/task.ts';
import { openQueues, type Queues } from '../../coordinator/dispatch/queues.ts';
import { startRedis, type TestRedis } from '../support/redis.ts';

let redis: TestRedis;
beforeAll(async () => {
  redis = await startRedis();
});
afterAll(() => redis.stop());

describe('entries', () => {
  it('wait in order until the agent takes them', async () => {
    const { queues } = await open();
    for (const attempt of [1, 2, 3]) await queues.enqueue('north', task(attempt));
    expect(await queues.pending('north')).toEqual([waiting(1), waiting(2), waiting(3)]);
    expect(await queues.pending('south')).toEqual([]);
  });

  it('are on their way once, however often they are added', async () => {
    const { queues, prefix } = await open();
    await queues.enqueue('north', task(1));
    await queues.enqueue('north', task(1));
    expect(await queues.pending('north')).toEqual([waiting(1)]);
    const agent = takeFrom(queues, prefix);
    await vi.waitFor(() => expect(agent.taken).toEqual([task(1)]));
    await queues.enqueue('north', task(1));
    expect(await queues.pending('north')).toEqual([{ ...waiting(1), active: true }]);
  });

  it('can be sent again when the agent is done with them, whether it failed or not', async () => {
    const { queues, prefix } = await open();
    const agent = takeFrom(queues, prefix);
    for (const [round, end] of [agent.done, agent.fail, agent.done].entries()) {
      await queues.enqueue('north', task(1));
      await vi.waitFor(() => expect(agent.taken).toHaveLength(round + 1));
      end();
      await vi.waitFor(async () => expect(await queues.pending('north')).toEqual([]));
    }
  });

  it('can be taken back until the agent has them', async () => {
    const { queues, prefix } = await open();
    await queues.enqueue('north', task(1));
    await queues.enqueue('north', task(2));
    expect(await queues.remove('north', 'jsample001', 1)).toBe(true);
    expect(await queues.pending('north')).toEqual([waiting(2)]);
    expect(await queues.remove('north', 'jsample001', 1)).toBe(true);
    const agent = takeFrom(queues, prefix);
    await vi.waitFor(() => expect(agent.taken).toEqual([task(2)]));
    expect(await queues.remove('north', 'jsample001', 2)).toBe(false);
  });

  it('of one prefix are not seen under another', async () => {
    const [one, other] = [await open(), await open()];
    await one.queues.enqueue('north', task(1));
    expect(await other.queues.pending('north')).toEqual([]);
  });
});

describe('a queue that is dropped', () => {
  it('is empty, and its agent goes on taking what comes after', async () => {
    const { queues, prefix } = await open();
    const agent = takeFrom(queues, prefix);
    await queues.enqueue('north', task(1));
    await vi.waitFor(() => expect(agent.taken).toHaveLength(1));
    await queues.enqueue('north', task(2));
    await queues.forget('north');
    expect(await queues.pending('north')).toEqual([]);
    agent.done();
    await queues.enqueue('north', task(3));
    await vi.waitFor(() => expect(agent.taken).toEqual([task(1), task(3)]), { timeout: 20_000 });
  });

  it('may be one that never was', async () => {
    const { queues } = await open();
    await expect(queues.forget('nobody')).resolves.toBeUndefined();
  });

  it('does not swallow what is added at the same time', async () => {
    const { queues } = await open();
    await queues.enqueue('north', task(1));
    await Promise.all([queues.forget('north'), queues.forget('north'), queues.enqueue('north', task(2))]);
    expect(await queues.pending('north')).toEqual([waiting(2)]);
  });
});

it('names queues so that BullMQ takes them for every agent', async () => {
  const { queues } = await open();
  for (const agentId of ['a', '0', 'north-1', `x${'-9'.repeat(31)}`]) {
    await queues.enqueue(agentId, task(1));
    expect(await queues.pending(agentId)).toEqual([waiting(1)]);
  }
});

it('says at once when there is no Redis', async () => {
  await expect(openQueues({ url: 'redis://127.0.0.1:1', prefix: 'x' })).rejects.toMatchObject({
    code: 'bad-config',
    message: expect.stringContaining('ECONNREFUSED'),
  });
});

async function open(): Promise<{ queues: Queues; prefix: string }> {
  const prefix = `test-${randomUUID()}`;
  const queues = await openQueues({ url: redis.url, prefix });
  onTestFinished(() => queues.close());
  return { queues, prefix };
}

/** An agent that keeps what it takes until it is told that it's done. */
function takeFrom(queues: Queues, prefix: string, agentId = 'north') {
  const taken: Task[] = [];
  let end = Promise.withResolvers<void>();
  const take = async (job: { data: Task }) => {
    taken.push(job.data);
    end = Promise.withResolvers<void>();
    await end.promise;
  };
  const worker = new Worker<Task>(queues.queueName(agentId), take, {
    connection: { url: redis.url, maxRetriesPerRequest: null },
    prefix,
  });
  worker.on('error', () => {});
  onTestFinished(() => worker.close(true));
  return { taken, done: () => end.resolve(), fail: () => end.reject(new Error('it failed')) };
}

function task(attempt: number): Task {
  return { kind: 'inspect', jobId: 'jsample001', attempt, path: 'rushes:a.mov' };
}

function waiting(attempt: number) {
  return { jobId: 'jsample001', attempt, active: false };
}
