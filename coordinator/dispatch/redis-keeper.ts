// Starts our Redis again when it ends by itself, after a pause that grows while it doesn't come up.
import { setTimeout as pause } from 'node:timers/promises';
import type { Logger } from 'pino';
import type { RedisProcess } from './redis-process.ts';

export type RedisLogger = Pick<Logger, 'warn' | 'error'>;

const firstPauseMs = 200;
const longestPauseMs = 5_000;

/** `stop` ends the keeping and the process. */
export function keepRunning(
  first: RedisProcess,
  startAgain: () => Promise<RedisProcess>,
  log: RedisLogger,
): { stop(): Promise<void> } {
  const stopping = new AbortController();
  let current: RedisProcess | null = first;
  const watching = watch();
  return {
    async stop() {
      stopping.abort();
      await current?.stop();
      await watching;
    },
  };

  async function watch(): Promise<void> {
    while (current !== null) {
      const lastWords = await current.ended;
      if (stopping.signal.aborted) return;
      log.error({ lastWords }, 'redis-server ended by itself; it is started again');
      current = await restart();
    }
  }

  async function restart(): Promise<RedisProcess | null> {
    for (let pauseMs = firstPauseMs; ; pauseMs = Math.min(pauseMs * 2, longestPauseMs)) {
      await pause(pauseMs, undefined, { signal: stopping.signal }).catch(() => undefined);
      if (stopping.signal.aborted) return null;
      try {
        const redis = await startAgain();
        if (!stopping.signal.aborted) return redis;
        await redis.stop();
        return null;
      } catch (error) {
        log.error({ reason: String(error) }, 'redis-server does not come up; it is tried again');
      }
    }
  }
}
