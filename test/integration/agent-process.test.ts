// The agent as a process, with a real Redis and a stand-in for the coordinator: it registers, works, and goes on when
// what is around it comes and goes.
import { existsSync } from 'node:fs';
import { mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, beforeEach, describe, expect, onTestFinished, test } from 'vitest';
import type { Task } from '#shared/task.ts';
import { hashFile } from '../../agent/tools/hash-file.ts';
import { residentMegabytes } from '../support/agent-process.ts';
import { type AgentWorld, jobId, makeAgentWorld, noLanes } from '../support/agent-world.ts';
import type { StandIn } from '../support/coordinator-stand-in.ts';
import { type RestartableRedis, startRestartableRedis } from '../support/restartable-redis.ts';
import { makeSource } from '../support/sources/make-source.ts';
import { waitUntil } from '../support/wait-until.ts';

/** What the agent itself may take of a machine's memory. */
const mostMegabytes = 200;
const sourceMissing = {
  ok: false,
  failure: { code: 'source-missing', stage: 'inspect', machine: 'suite-2' },
};

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

describe('an agent', () => {
  test('registers, tells what it reaches, and takes its leave', async () => {
    const agent = await world.start(noLanes, { NIGHTMILL_TOKEN: 'a-long-secret' });
    const heartbeat = await waitUntil('a heartbeat', () => standIn.heartbeats[1]);
    expect(standIn.registrations[0]).toMatchObject({
      protocol: 1,
      agentId: expect.stringMatching(/^suite-2-[0-9a-f]{8}$/),
      name: 'suite-2',
      encodePlaces: 0,
      deskPlaces: 2,
      lanes: [],
      volumes: { media: { readable: true, writable: true } },
    });
    expect(heartbeat).toMatchObject({
      reach: { granary: true, volumes: { media: { readable: true } } },
      running: [],
    });
    expect(new Set(standIn.authorizations)).toEqual(new Set(['Bearer a-long-secret']));

    agent.kill('SIGTERM');
    expect(await agent.exit).toEqual({ code: 0, signal: null });
    expect(standIn.left).toEqual([standIn.registrations[0]?.agentId]);
    expect(await readdir(world.scratchRoot)).toEqual([]);
  });

  test('does not take a folder for the granary that has another mark', async () => {
    standIn.behaviour.markText = 'another mark than the one in the folder';
    await world.start(noLanes);
    const heartbeat = await waitUntil('a heartbeat', () => standIn.heartbeats[1]);
    expect(heartbeat.reach.granary).toBe(false);
  });

  test('stays small while it waits', async () => {
    const agent = await world.start(noLanes);
    await waitUntil('it is settled', () => standIn.heartbeats.length > 10);
    expect(await residentMegabytes(agent.pid)).toBeLessThan(mostMegabytes);
  });

  test('inspects a source and delivers a file that its queue asks for', async () => {
    await world.startRegistered(noLanes);
    const source = await makeSource('h264-mp4-closed-gop');
    await writeFile(join(world.folder, 'media', 'a.mp4'), await readFile(source.path));
    await standIn.enqueue({ jobId, attempt: 1, kind: 'inspect', path: 'media:a.mp4' });
    expect(await world.outcomeOf(1)).toMatchObject({
      ok: true,
      result: { kind: 'inspect', facts: { schema: 1 } },
    });

    const kept = join(world.folder, 'granary', jobId, 'a2-joined.mov');
    await mkdir(join(world.folder, 'granary', jobId));
    await writeFile(kept, 'a deliverable');
    const joined = { file: `${jobId}/a2-joined.mov`, ...(await hashFile(kept)) };
    const task: Task = {
      jobId,
      attempt: 3,
      kind: 'deliver',
      joined,
      to: 'media:out/a.mov',
      replace: false,
      report: null,
    };
    await standIn.enqueue(task);
    expect(await world.outcomeOf(3)).toMatchObject({
      ok: true,
      result: { kind: 'deliver', hash: joined.hash },
    });
    expect(await readFile(join(world.folder, 'media', 'out', 'a.mov'), 'utf8')).toBe('a deliverable');
    await waitUntil('the queue is empty', async () => (await standIn.queued()) === 0);
  });

  test('tells a failure with stage and machine', async () => {
    await world.startRegistered(noLanes);
    await standIn.enqueue(missingSource(1));
    expect(await world.outcomeOf(1)).toMatchObject(sourceMissing);
  });
});

describe('an agent goes on', () => {
  test('when Redis was gone, and tells meanwhile that its queue is silent', async () => {
    await world.start(noLanes);
    const queueAge = () => standIn.heartbeats.at(-1)?.queueAgeSeconds;
    await waitUntil('the queue answers', () => (queueAge() ?? 9) < 1);
    await redis.stop();
    await waitUntil('the silence shows', () => (queueAge() ?? 0) > 6);
    await redis.start();
    await standIn.enqueue(missingSource(1));
    expect(await world.outcomeOf(1)).toMatchObject(sourceMissing);
    await waitUntil('the silence is over', () => (queueAge() ?? 9) < 6);
  });

  test('when the coordinator has forgotten it: it registers again under its id', async () => {
    await world.startRegistered(noLanes);
    standIn.behaviour.forgetAgent = true;
    const again = await waitUntil('it registers again', () => standIn.registrations[1]);
    expect(again.agentId).toBe(standIn.registrations[0]?.agentId);
  });

  test('when the coordinator comes back with another Redis', async () => {
    await world.startRegistered(noLanes);
    const another = await startRestartableRedis();
    onTestFinished(() => another.remove());
    standIn.behaviour.redisUrl = another.url;
    standIn.behaviour.forgetAgent = true;
    await waitUntil('it registers again', () => standIn.registrations[1]);
    await standIn.enqueue(missingSource(1));
    expect(await world.outcomeOf(1)).toMatchObject(sourceMissing);
  });

  test('when the coordinator does not answer yet', async () => {
    standIn.behaviour.failWith = 503;
    await world.start(noLanes);
    await waitUntil('it has asked twice', () => standIn.authorizations.length >= 2);
    expect(standIn.registrations).toEqual([]);
    standIn.behaviour.failWith = null;
    await waitUntil('it is registered', () => standIn.registrations[0]);
  });

  test('after it was killed: under the same id, and what it left is swept', async () => {
    const first = await world.startRegistered(noLanes);
    first.kill('SIGKILL');
    await first.exit;
    const left = join(world.scratchRoot, 'j0000000009-a4');
    await mkdir(join(left, 'grains'), { recursive: true });
    await world.startRegistered(noLanes);
    expect(standIn.registrations[1]?.agentId).toBe(standIn.registrations[0]?.agentId);
    expect(existsSync(left)).toBe(false);
  });
});

function missingSource(attempt: number): Task {
  return { jobId, attempt, kind: 'inspect', path: 'media:nothing.mov' };
}
