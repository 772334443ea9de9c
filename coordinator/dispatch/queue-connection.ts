// The coordinator's one connection to Redis. It comes back by itself after an outage; until then everything that needs
// it fails at once, so that nobody waits for a Redis that isn't there.
import { Redis } from 'ioredis';
import { MillError } from '#shared/errors.ts';
import { redisPlace } from './redis-ask.ts';
import { withDeadline } from './redis-deadline.ts';

export type QueueConnection = {
  /** For BullMQ. */
  readonly redis: Redis;
  /** Runs `work` if Redis is there. Throws MillError `internal` when it isn't, or `work` takes too long. */
  use<Result>(work: () => Promise<Result>): Promise<Result>;
  close(): void;
};

const commandTimeoutMs = 5_000;
const workTimeoutMs = 15_000;
const longestRetryMs = 2_000;

/** Resolves when Redis answers for the first time; throws MillError `bad-config` when it doesn't in time. */
export async function connectQueues(url: string): Promise<QueueConnection> {
  let trouble = 'not connected';
  const redis = new Redis(url, {
    lazyConnect: true,
    enableOfflineQueue: false,
    commandTimeout: commandTimeoutMs,
    // What was under way when the connection broke fails rather than waits for the next one.
    maxRetriesPerRequest: 0,
    retryStrategy: (tries) => Math.min(50 * 2 ** Math.min(tries, 10), longestRetryMs),
  });
  redis.on('error', (error) => {
    trouble = error.message || error.name;
  });
  const place = redisPlace(url);
  const gone = (why: string, cause?: unknown) =>
    new MillError('internal', `Redis at ${place} does not answer: ${why}; it is tried again`, { cause });

  await redis.connect().catch((cause: unknown) => {
    redis.disconnect();
    throw new MillError(
      'bad-config',
      `Redis at ${place} does not answer: ${trouble}; start it, or correct its URL`,
      { cause },
    );
  });
  return {
    redis,
    async use(work) {
      if (redis.status !== 'ready') throw gone(trouble);
      try {
        return await withDeadline(work(), workTimeoutMs);
      } catch (error) {
        throw gone(error instanceof Error ? error.message : String(error), error);
      }
    },
    close: () => redis.disconnect(),
  };
}
