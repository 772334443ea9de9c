// Attempts on one machine, from the queue's entry to the outcome at the coordinator. The tasks are small functions of the
// test; places, scratch, reports and outcomes are the agent's own, over real HTTP.
import { existsSync } from 'node:fs';
import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { MillError } from '#shared/errors.ts';
import type { Task, TaskResult } from '#shared/task.ts';
import { type Attempts, type AttemptTools, createAttempts } from '../../agent/link/attempts.ts';
import { type StandIn, startStandIn } from '../support/coordinator-stand-in.ts';
import { type RecordedLog, recordLog } from '../support/recorded-log.ts';
import { tempFolder } from '../support/temp-folder.ts';
import { waitUntil } from '../support/wait-until.ts';

let folder: string;
let standIn: StandIn;
let log: RecordedLog;

beforeEach(async () => {
  folder = await tempFolder();
  standIn = await startStandIn({ redisUrl: '/nowhere', granary: join(folder, 'granary') });
  log = recordLog();
});

afterEach(async () => {
  await standIn[Symbol.asyncDispose]();
});

const encoded: TaskResult = { kind: 'encode', frames: 50, seconds: 2, command: 'ffmpeg' };

describe('an attempt', () => {
  test('ends with its result, and its scratch folder is gone', async () => {
    let scratch = '';
    const attempts = attemptsWith(async (_task, tools) => {
      scratch = tools.scratch;
      expect(existsSync(scratch)).toBe(true);
      return encoded;
    });
    await attempts.run(inspectTask(1));
    expect(standIn.outcomes.get('j0000000001/1')).toEqual({ ok: true, result: encoded });
    expect(scratch).toBe(join(folder, 'scratch', 'j0000000001-a1'));
    expect(existsSync(scratch)).toBe(false);
    expect(attempts.running()).toEqual([]);
  });

  test('has job, attempt and kind in every line of its log', async () => {
    await attemptsWith(async (_task, tools) => {
      tools.log.info({ frames: 5 }, 'from inside');
      return encoded;
    }).run(inspectTask(1));
    expect(log.lines.map(({ message }) => message)).toContain('from inside');
    for (const line of log.lines)
      expect(line).toMatchObject({ jobId: 'j0000000001', attempt: 1, kind: 'inspect' });
  });

  test.each([
    [new MillError('source-empty', 'it has 0 bytes', { details: { line: 'x' } }), 'source-empty'],
    [new TypeError('a slip'), 'internal'],
  ])('that fails says so, with stage and machine (%s)', async (error, code) => {
    await attemptsWith(async () => {
      throw error;
    }).run(inspectTask(1));
    expect(standIn.outcomes.get('j0000000001/1')).toMatchObject({
      ok: false,
      failure: {
        code,
        stage: 'inspect',
        machine: 'suite-2',
        message: expect.stringContaining(error.message),
      },
    });
    expect(await readdir(join(folder, 'scratch'))).toEqual([]);
  });

  test('repeats its outcome until the coordinator answers', async () => {
    standIn.behaviour.failWith = 503;
    const running = attemptsWith(async () => encoded).run(inspectTask(1));
    await waitUntil('the outcome was tried', () => standIn.authorizations.length >= 2);
    expect(standIn.outcomes.size).toBe(0);
    standIn.behaviour.failWith = null;
    await running;
    expect(standIn.outcomes.size).toBe(1);
  });

  test('is told as failed when the coordinator can not read its result', async () => {
    await attemptsWith(async () => ({ kind: 'mystery' }) as unknown as TaskResult).run(inspectTask(1));
    expect(standIn.outcomes.get('j0000000001/1')).toMatchObject({
      ok: false,
      failure: { code: 'internal', stage: 'outcome' },
    });
  });

  test('runs once when the queue hands it over twice', async () => {
    let runs = 0;
    const held = Promise.withResolvers<TaskResult>();
    const attempts = attemptsWith(() => {
      runs += 1;
      return held.promise;
    });
    const both = [attempts.run(inspectTask(1)), attempts.run(inspectTask(1))];
    await waitUntil('it runs', () => runs > 0);
    held.resolve(encoded);
    await Promise.all(both);
    expect(runs).toBe(1);
  });
});

describe('an attempt that no longer counts', () => {
  test('is ended by the answer to its progress, without an outcome', async () => {
    standIn.behaviour.stale.add('j0000000001/1');
    let lease: unknown;
    await attemptsWith(async (_task, tools) => {
      lease = await tools.report.progress({ frames: 10, seconds: 1 });
      expect(tools.signal.aborted).toBe(true);
      throw new Error('stopped in the middle');
    }).run(inspectTask(1));
    expect(lease).toEqual({ proceed: false, end: 0 });
    expect(standIn.outcomes.size).toBe(0);
  });

  test('is ended by a lease that says so', async () => {
    standIn.behaviour.lease = { proceed: false, end: 40 };
    await attemptsWith(async (_task, tools) => {
      expect(await tools.report.progress({ frames: 10, seconds: 1 })).toEqual({ proceed: false, end: 40 });
      tools.signal.throwIfAborted();
      return encoded;
    }).run(inspectTask(1));
    expect(standIn.outcomes.size).toBe(0);
  });

  test('is ended by name, and only that one', async () => {
    const attempts = attemptsWith(untilStopped);
    const [first, second] = [attempts.run(inspectTask(1)), attempts.run(inspectTask(2))];
    attempts.stop([
      { jobId: 'j0000000001', attempt: 1 },
      { jobId: 'j9999999999', attempt: 1 },
    ]);
    await first;
    expect(attempts.running()).toEqual([{ jobId: 'j0000000001', attempt: 2 }]);
    attempts.stop(attempts.running());
    await second;
    expect(standIn.outcomes.size).toBe(0);
  });

  test('takes the refusal of its outcome quietly', async () => {
    standIn.behaviour.stale.add('j0000000001/1');
    await attemptsWith(async () => encoded).run(inspectTask(1));
    expect(standIn.outcomes.size).toBe(0);
    expect(log.lines.filter(({ level }) => level === 'warn' || level === 'error')).toEqual([]);
  });
});

describe('attempts together', () => {
  test('run no more at a time than there are places', async () => {
    let [now, most] = [0, 0];
    const gate = Promise.withResolvers<void>();
    const attempts = attemptsWith(
      async () => {
        now += 1;
        most = Math.max(most, now);
        await gate.promise;
        now -= 1;
        return encoded;
      },
      { deskPlaces: 2 },
    );
    const all = Promise.all([1, 2, 3, 4, 5].map((attempt) => attempts.run(inspectTask(attempt))));
    await waitUntil('two run together', () => now === 2);
    gate.resolve();
    await all;
    expect(most).toBe(2);
    expect(standIn.outcomes.size).toBe(5);
  });

  test('end without outcomes when the agent stops, those in waiting too, and leave no scratch', async () => {
    const attempts = attemptsWith(untilStopped, { deskPlaces: 1 });
    const both = Promise.allSettled([attempts.run(inspectTask(1)), attempts.run(inspectTask(2))]);
    await waitUntil('one runs', () => existsSync(join(folder, 'scratch', 'j0000000001-a1')));
    await attempts.close();
    expect((await both).map(({ status }) => status)).toEqual(['rejected', 'rejected']);
    await expect(attempts.run(inspectTask(3))).rejects.toThrow(/stopping/);
    expect(standIn.outcomes.size).toBe(0);
    expect(await readdir(join(folder, 'scratch'))).toEqual([]);
  });
});

describe('an entry that is no task', () => {
  test('is told as failed when its attempt can be read', async () => {
    const attempts = attemptsWith(async () => encoded);
    await expect(attempts.run({ ...inspectTask(1), kind: 'dream' })).rejects.toThrow(/another version/);
    expect(standIn.outcomes.get('j0000000001/1')).toMatchObject({
      ok: false,
      failure: { stage: 'read-task' },
    });
  });

  test('is refused when nothing can be read', async () => {
    await expect(attemptsWith(async () => encoded).run('nonsense')).rejects.toThrow(/another version/);
  });
});

describe('progress', () => {
  test('that comes while the coordinator is silent is not queued up: the newest is told', async () => {
    standIn.behaviour.failWith = 503;
    await attemptsWith(async (_task, tools) => {
      const reports = [1, 2, 3].map((frames) => tools.report.progress({ frames, seconds: frames }));
      await waitUntil('a report was tried', () => standIn.authorizations.length >= 1);
      standIn.behaviour.failWith = null;
      await Promise.all(reports);
      return encoded;
    }).run(inspectTask(1));
    expect(standIn.progress).toEqual([{ frames: 3, seconds: 3 }]);
  });
});

type Execute = (task: Task, tools: AttemptTools) => Promise<TaskResult>;

function attemptsWith(execute: Execute, { deskPlaces = 4 } = {}): Attempts {
  return createAttempts({
    coordinator: { baseUrl: new URL(standIn.url), token: null },
    execute,
    encodePlaces: 1,
    deskPlaces,
    scratchRoot: join(folder, 'scratch'),
    granaryFolder: () => null,
    machine: 'suite-2',
    log,
  });
}

function untilStopped(_task: Task, { signal }: AttemptTools): Promise<never> {
  return new Promise((_resolve, reject) => {
    signal.addEventListener('abort', () => reject(signal.reason), { once: true });
    if (signal.aborted) reject(signal.reason);
  });
}

function inspectTask(attempt: number): Task {
  return { jobId: 'j0000000001', attempt, kind: 'inspect', path: 'rushes:a.mov' };
}
