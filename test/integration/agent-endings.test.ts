// How an agent and its encoders end: told to, interrupted, killed, refused. Nothing is left running and nothing behind.
import { link, readdir } from 'node:fs/promises';
import { getPriority } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import {
  type AgentProcess,
  believeLanes,
  childrenOf,
  isRunning,
  residentMegabytes,
} from '../support/agent-process.ts';
import { type AgentWorld, jobId, makeAgentWorld, noLanes } from '../support/agent-world.ts';
import type { StandIn } from '../support/coordinator-stand-in.ts';
import { type RestartableRedis, startRestartableRedis } from '../support/restartable-redis.ts';
import { type LongEncode, makeLongEncode } from '../support/tasks/long-encode.ts';
import { waitUntil } from '../support/wait-until.ts';

/** What an orderly end may take at the most. */
const endLimitMs = 5_000;
/** What the agent itself may take of a machine's memory. */
const mostMegabytes = 200;

let redis: RestartableRedis;
let world: AgentWorld;
let standIn: StandIn;

beforeAll(async () => {
  redis = await startRestartableRedis();
});

afterAll(() => redis.remove());

beforeEach(async () => {
  world = await makeAgentWorld(redis.url);
  standIn = world.standIn;
});

describe('an encoder', () => {
  // Nothing to measure: these tests are about its end.
  const lanes = ['--formats', ''];
  let longEncode: LongEncode;

  beforeAll(async () => {
    longEncode = await makeLongEncode({ jobId, attempt: 1 });
  });

  afterAll(() => longEncode.remove());

  beforeEach(() => believeLanes(world.folder));

  test('ends when the coordinator says so in its heartbeat', async () => {
    const { agent, encoder } = await startEncoding();
    standIn.behaviour.stop = [{ jobId, attempt: 1 }];
    await waitUntil('the encoder is gone', () => !isRunning(encoder));
    await waitUntil('the attempt is no longer told', () => standIn.heartbeats.at(-1)?.running.length === 0);
    expect(await readdir(world.scratchRoot)).not.toContain(`${jobId}-a1`);
    expect(standIn.outcomes.size).toBe(0);
    expect(isRunning(agent.pid)).toBe(true);
  });

  test('ends with the agent, which leaves nothing behind', async () => {
    const { agent, encoder } = await startEncoding();
    agent.kill('SIGTERM');
    await waitUntil('the agent is gone', () => !isRunning(agent.pid), endLimitMs);
    expect(await agent.exit).toEqual({ code: 0, signal: null });
    expect(isRunning(encoder)).toBe(false);
    expect(await readdir(world.scratchRoot)).toEqual([]);
    expect(standIn.left).toHaveLength(1);
    expect(standIn.outcomes.size).toBe(0);
  });

  test('ends with an agent that is killed outright; the next one is free for what it is sent again', async () => {
    const { agent, encoder } = await startEncoding();
    agent.kill('SIGKILL');
    await waitUntil('the encoder is gone', () => !isRunning(encoder));
    expect(await standIn.queued()).toBe(1);

    await world.startRegistered(lanes);
    await waitUntil('the queue is free of what was left', async () => (await standIn.queued()) === 0);
    await standIn.enqueue({ jobId, attempt: 2, kind: 'inspect', path: 'media:nothing.mov' });
    expect(await world.outcomeOf(2)).toMatchObject({ ok: false, failure: { code: 'source-missing' } });
  });

  test('gives way to others; the agent does not, and stays small beside it', async () => {
    const { agent, encoder } = await startEncoding();
    expect(getPriority(encoder)).toBeGreaterThan(getPriority(agent.pid));
    expect(await residentMegabytes(agent.pid)).toBeLessThan(mostMegabytes);
  });

  async function startEncoding(): Promise<{ agent: AgentProcess; encoder: number }> {
    const agent = await world.startRegistered(lanes);
    await link(longEncode.source, join(world.folder, 'media', 'long.mp4'));
    await standIn.enqueue(longEncode.task);
    const [encoder = 0] = await waitUntil('the encoder runs', async () => {
      const found = await childrenOf(agent.pid, 'ffmpeg');
      return found.length > 0 && standIn.progress.length > 0 ? found : null;
    });
    return { agent, encoder };
  }
});

describe('an agent ends', () => {
  test('with its parent, when asked to', async () => {
    const agent = await world.startRegistered([...noLanes, '--end-with-parent']);
    agent.closeInput();
    expect(await agent.exit).toEqual({ code: 0, signal: null });
    expect(standIn.left).toHaveLength(1);
  });

  test('with 130 when interrupted', async () => {
    const agent = await world.startRegistered(noLanes);
    agent.kill('SIGINT');
    expect(await agent.exit).toEqual({ code: 130, signal: null });
  });

  test('while the coordinator is silent', async () => {
    standIn.behaviour.failWith = 503;
    const agent = await world.start(noLanes);
    await waitUntil('it has asked', () => standIn.authorizations.length > 0);
    agent.kill('SIGTERM');
    expect(await agent.exit).toEqual({ code: 0, signal: null });
  });

  test('while Redis is gone', async () => {
    const agent = await world.startRegistered(noLanes);
    await redis.stop();
    agent.kill('SIGTERM');
    await waitUntil('the agent is gone', () => !isRunning(agent.pid), endLimitMs);
    await redis.start();
    expect(await agent.exit).toEqual({ code: 0, signal: null });
  });

  test('with 1 when the coordinator refuses its token', async () => {
    standIn.behaviour.failWith = 401;
    const agent = await world.start(noLanes);
    expect(await agent.exit).toMatchObject({ code: 1 });
    expect(agent.log.at(-1)).toMatchObject({ failure: { code: 'unauthorised' } });
  });

  test('with 2 beside another of its name', async () => {
    await world.startRegistered(noLanes);
    const second = await world.start(noLanes);
    expect(await second.exit).toMatchObject({ code: 2 });
    const failure = { message: expect.stringContaining('another agent of this name') };
    expect(second.log.at(-1)).toMatchObject({ failure });
  });

  test('with 2 for a config that is wrong, and says what is', async () => {
    const agent = await world.start(['--encode-places', 'many']);
    expect(await agent.exit).toMatchObject({ code: 2 });
    expect(agent.log).toEqual([{ text: '--encode-places: encodePlaces: expected number, received string' }]);
  });
});
