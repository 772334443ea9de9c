// One run of redis-server: started, waited for until it answers us, and ended in order.
import { execa } from 'execa';
import { MillError } from '#shared/errors.ts';
import { askRedis, redisUrl } from './redis-ask.ts';
import { type RedisConfig, writeRedisConfig } from './redis-config.ts';
import { createRedisLog } from './redis-log.ts';
import type { RedisProgram } from './redis-program.ts';

export type RedisProcess = {
  readonly pid: number;
  /** Resolves when the process is gone, with the line of its log that says why. */
  readonly ended: Promise<string>;
  /** Ends it, keeping its data; kills it when it doesn't end in time. */
  stop(): Promise<void>;
};

const startTimeoutMs = 30_000;
const stopTimeoutMs = 10_000;
const pollMs = 50;

/** Throws MillError `internal` with Redis's own words when it ends, or answers nobody, before it is ready. */
export async function startRedisProcess(program: RedisProgram, config: RedisConfig): Promise<RedisProcess> {
  const redis = spawnRedis(program, config);
  try {
    await waitUntilReady(redis, config);
    return redis;
  } catch (error) {
    await redis.stop();
    throw error;
  }
}

function spawnRedis(program: RedisProgram, config: RedisConfig): RedisProcess {
  const log = createRedisLog();
  const child = execa(program.file, program.args, {
    input: writeRedisConfig(config),
    all: true,
    buffer: false,
    reject: false,
    // In a session of its own: Ctrl-C in our terminal is for us, we end it when we are done with it.
    detached: true,
    cleanup: false,
    forceKillAfterDelay: stopTimeoutMs,
  });
  const killAtExit = () => child.kill('SIGTERM');
  process.once('exit', killAtExit);
  const ended = Promise.all([
    readLines(child.iterable({ from: 'all' }), (line) => log.add(line)),
    child,
  ]).then(() => {
    process.off('exit', killAtExit);
    return log.decisiveLine();
  });
  return {
    pid: child.pid ?? 0,
    ended,
    async stop() {
      child.kill('SIGTERM');
      await ended;
    },
  };
}

async function waitUntilReady(redis: RedisProcess, config: RedisConfig): Promise<void> {
  const url = redisUrl({
    host: '127.0.0.1',
    port: config.port,
    user: 'keeper',
    password: config.keeperPassword,
  });
  let lastWords: string | null = null;
  void redis.ended.then((line) => {
    lastWords = line;
  });
  const deadlineMs = performance.now() + startTimeoutMs;
  while (lastWords === null && performance.now() < deadlineMs) {
    if (await isServing(url, redis.pid)) return;
    await Promise.race([redis.ended, new Promise((resolve) => setTimeout(resolve, pollMs))]);
  }
  const why = lastWords ?? `it did not answer within ${startTimeoutMs / 1000} s`;
  throw new MillError('internal', `redis-server for ${config.folder} did not start: ${why}`, {
    details: { line: why, port: config.port },
  });
}

/** True when that very process answers; another Redis may have taken the port, and ours may still be loading. */
async function isServing(url: string, pid: number): Promise<boolean> {
  try {
    return await askRedis(url, 1_000, async (redis) =>
      new RegExp(`^process_id:${pid}\\r?$`, 'm').test(await redis.info('server')),
    );
  } catch {
    return false;
  }
}

async function readLines(lines: AsyncIterable<unknown>, use: (line: string) => void): Promise<void> {
  // A killed process ends its streams with an error; what it said before is what counts.
  try {
    for await (const line of lines) use(String(line));
  } catch {}
}
