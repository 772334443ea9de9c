// Our own private Redis: a child process with its data in our data folder, started again when it dies by itself.
import { mkdir } from 'node:fs/promises';
import { redisUrl } from './redis-ask.ts';
import type { RedisConfig } from './redis-config.ts';
import { keepRunning, type RedisLogger } from './redis-keeper.ts';
import { newPassword, readKeepsake, writeKeepsake } from './redis-keepsake.ts';
import { endLeftover } from './redis-leftover.ts';
import { findFreePort, isPortFree } from './redis-port.ts';
import { type RedisProcess, startRedisProcess } from './redis-process.ts';
import { findRedisProgram, type RedisProgram } from './redis-program.ts';
import { setDataAside, tellsOfDamage } from './redis-salvage.ts';

export type RedisServerOptions = {
  /** For Redis alone. One coordinator at a time: whoever starts it holds the data folder's lock. */
  readonly folder: string;
  /** Address on which agents reach it. Loopback is always served too. */
  readonly bind: string;
  readonly log: RedisLogger;
};

export type RedisServer = {
  /** With the password; for this machine. */
  readonly url: string;
  readonly port: number;
  /** The same for a machine that reaches this one as `host`. */
  urlFor(host: string): string;
  /** Ends it, keeping its data. */
  stop(): Promise<void>;
};

const startTries = 3;

/** Resolves when it answers. Throws MillError `missing-tool`, `bad-config` or `internal`, with Redis's own words. */
export async function startRedisServer({ folder, bind, log }: RedisServerOptions): Promise<RedisServer> {
  const program = await findRedisProgram();
  await mkdir(folder, { recursive: true, mode: 0o700 });
  const earlier = await readKeepsake(folder);
  if (earlier !== null) await endLeftover(folder, earlier);
  const { password, keeperPassword } = earlier ?? { password: newPassword(), keeperPassword: newPassword() };
  const wanted = { folder, bind, password, keeperPassword };
  const { config, redis } = await startOnFreePort(program, { ...wanted, port: earlier?.port ?? 0 }, log);
  const keeper = keepRunning(redis, () => start(program, config, log), log);
  return {
    url: redisUrl({ host: '127.0.0.1', port: config.port, password }),
    port: config.port,
    urlFor: (host) => redisUrl({ host, port: config.port, password }),
    stop: () => keeper.stop(),
  };
}

/** On the port of the last time if it is free, since agents know it. A port can be taken between look and use. */
async function startOnFreePort(
  program: RedisProgram,
  wanted: RedisConfig,
  log: RedisLogger,
): Promise<{ config: RedisConfig; redis: RedisProcess }> {
  for (let tries = 1; ; tries++) {
    const port =
      tries === 1 && (await isPortFree(wanted.port, wanted.bind))
        ? wanted.port
        : await findFreePort(wanted.bind);
    const config = { ...wanted, port };
    try {
      return { config, redis: await start(program, config, log) };
    } catch (error) {
      if (tries === startTries || !String(error).includes('in use')) throw error;
    }
  }
}

async function start(program: RedisProgram, config: RedisConfig, log: RedisLogger): Promise<RedisProcess> {
  const redis = await startOrEmpty(program, config, log);
  await remember(config, redis.pid);
  return redis;
}

/** Losing its data loses nothing, the ledger knows what is due: files that it can't read are set aside. */
async function startOrEmpty(
  program: RedisProgram,
  config: RedisConfig,
  log: RedisLogger,
): Promise<RedisProcess> {
  // Known before it runs, so that it is found again even if we die in between.
  await remember(config, 0);
  try {
    return await startRedisProcess(program, config);
  } catch (error) {
    if (!tellsOfDamage(error)) throw error;
    const aside = await setDataAside(config.folder);
    log.warn(
      { reason: String(error), aside },
      'the queue’s data was damaged; it was set aside and is made again from the ledger',
    );
    return startRedisProcess(program, config);
  }
}

function remember({ folder, port, password, keeperPassword }: RedisConfig, pid: number): Promise<void> {
  return writeKeepsake(folder, { port, password, keeperPassword, pid });
}
