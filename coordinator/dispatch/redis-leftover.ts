// A Redis of ours that outlived its coordinator: ended before another one works on the same files, which would spoil
// them. It is known by our own password and folder, never by its number alone, which may be another program's by now.
import { readlink, realpath } from 'node:fs/promises';
import { MillError } from '#shared/errors.ts';
import { askRedis, redisUrl } from './redis-ask.ts';
import type { RedisKeepsake } from './redis-keepsake.ts';

const answerTimeoutMs = 1_000;
const endTimeoutMs = 10_000;
const pollMs = 50;

/** Throws MillError `bad-config` when it is there and can't be ended. */
export async function endLeftover(folder: string, keepsake: RedisKeepsake): Promise<void> {
  if (await shutDown(folder, keepsake)) return waitUntilGone(keepsake.pid);
  if (keepsake.pid === 0 || !(await worksIn(keepsake.pid, folder))) return;
  // It is ours but answers nobody: its files are append-only and bear a hard end.
  process.kill(keepsake.pid, 'SIGKILL');
  await waitUntilGone(keepsake.pid);
}

/** True when it answered and was told to end. */
async function shutDown(folder: string, { port, keeperPassword }: RedisKeepsake): Promise<boolean> {
  const url = redisUrl({ host: '127.0.0.1', port, user: 'keeper', password: keeperPassword });
  try {
    return await askRedis(url, answerTimeoutMs, async (redis) => {
      const [, dir = ''] = await redis.config('GET', 'dir');
      if ((await realpath(dir)) !== (await realpath(folder))) return false;
      // The answer to this is the end of the connection.
      await redis.shutdown().catch(() => undefined);
      return true;
    });
  } catch {
    return false;
  }
}

/** On Linux a Redis's working folder is its data folder; elsewhere an unanswering one can't be told from others. */
async function worksIn(pid: number, folder: string): Promise<boolean> {
  try {
    return (await readlink(`/proc/${pid}/cwd`)) === (await realpath(folder));
  } catch {
    return false;
  }
}

async function waitUntilGone(pid: number): Promise<void> {
  const deadlineMs = performance.now() + endTimeoutMs;
  while (isAlive(pid)) {
    if (performance.now() > deadlineMs) {
      throw new MillError(
        'bad-config',
        `a redis-server of an earlier run (process ${pid}) does not end; end it and start again`,
      );
    }
    await new Promise((resolve) => setTimeout(resolve, pollMs));
  }
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return pid !== 0;
  } catch {
    return false;
  }
}
