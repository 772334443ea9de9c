// Takes this agent's entries from its BullMQ queue. Nothing of BullMQ is seen outside this file.
import { type JobJson, Queue, Worker } from 'bullmq';
import type { AgentLog } from '../tools/logger.ts';

export type QueueAddress = {
  readonly redisUrl: string;
  readonly queuePrefix: string;
  readonly queueName: string;
};

export type QueueConsumer = {
  /** Seconds since the queue last answered a fetch; 0 while every place is taken and nothing is fetched. */
  ageSeconds(): number;
  /** Fetches nothing more; what runs goes on. */
  pause(): Promise<void>;
  /** Fetches nothing more and lets go of Redis when the last entry has ended. */
  close(): Promise<void>;
};

export type ConsumerParts = {
  readonly address: QueueAddress;
  readonly concurrency: number;
  readonly run: (entry: unknown) => Promise<void>;
  /** This process has taken nothing yet: what the queue holds as taken is left from one that was killed. */
  readonly first: boolean;
  readonly log: AgentLog;
};

const lockMs = 60_000;
const stalledCheckMs = 15_000;
const retryMs = 1_000;
const longestReconnectMs = 2_000;

export function consumeQueue({ address, concurrency, run, first, log }: ConsumerParts): QueueConsumer {
  const watch = createWatch(concurrency);
  const worker = new WatchedWorker(
    address.queueName,
    async (job) => {
      watch.begin();
      try {
        await run(job.data);
      } finally {
        watch.end();
      }
    },
    {
      ...connectionTo(address),
      concurrency,
      lockDuration: lockMs,
      stalledInterval: stalledCheckMs,
      runRetryDelay: retryMs,
      // What came of an entry is in the ledger. One that is kept would keep the same attempt from being sent again.
      removeOnComplete: { count: 0 },
      removeOnFail: { count: 0 },
      autorun: false,
    },
  );
  worker.onAnswer = watch.answered;
  const complain = tellOnce(log);
  worker.on('error', (error) => complain(error.message));
  void (first ? dropOrphans(address, log) : Promise.resolve())
    .then(() => worker.run())
    .catch((error: unknown) => log.error({ reason: String(error) }, 'the queue consumer ended'));
  return {
    ageSeconds: watch.ageSeconds,
    pause: () => worker.pause(true),
    close: () => worker.close(),
  };
}

function connectionTo({ redisUrl, queuePrefix }: QueueAddress) {
  return {
    prefix: queuePrefix,
    connection: {
      url: redisUrl,
      maxRetriesPerRequest: null,
      retryStrategy: (tries: number) => Math.min(100 * 2 ** Math.min(tries, 8), longestReconnectMs),
    },
  };
}

/**
 * Entries taken by an earlier process of this agent are locked for a minute, though nobody works on them. With them gone
 * the coordinator can send at once what still counts.
 */
async function dropOrphans(address: QueueAddress, log: AgentLog): Promise<void> {
  const queue = new Queue(address.queueName, connectionTo(address));
  queue.on('error', () => {});
  try {
    const orphans = await queue.getActiveCount();
    if (orphans === 0) return;
    log.info({ orphans }, 'dropping what an earlier run had taken from the queue');
    await queue.obliterate({ force: true });
  } finally {
    await queue.close();
  }
}

/** A Worker that tells each time that Redis has answered a fetch, with an entry or without. */
class WatchedWorker extends Worker<unknown> {
  onAnswer: () => void = () => {};

  protected override nextJobFromJobData(data?: JobJson, id?: string, token?: string) {
    this.onAnswer();
    return super.nextJobFromJobData(data, id, token);
  }
}

function createWatch(concurrency: number) {
  let busy = 0;
  let answeredMs = performance.now();
  const answered = () => {
    answeredMs = performance.now();
  };
  return {
    answered,
    begin() {
      busy += 1;
    },
    end() {
      // While all places were taken nothing was fetched: the silence begins now.
      if (busy === concurrency) answered();
      busy -= 1;
    },
    ageSeconds: () => (busy >= concurrency ? 0 : (performance.now() - answeredMs) / 1000),
  };
}

/** A connection that is gone says the same thing every second; once a minute is enough. */
function tellOnce(log: AgentLog): (reason: string) => void {
  const toldMs = new Map<string, number>();
  return (reason) => {
    const nowMs = performance.now();
    if (nowMs - (toldMs.get(reason) ?? Number.NEGATIVE_INFINITY) < 60_000) return;
    toldMs.set(reason, nowMs);
    log.warn({ reason }, 'trouble with the queue');
  };
}
