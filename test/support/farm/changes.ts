// Follows a farm's stream of changes from the first one on, across restarts of the coordinator, and keeps them all: what
// happened to a job, in order, is the test's second witness beside the job's own record.
import { setTimeout as sleep } from 'node:timers/promises';
import { createParser, type EventSourceMessage } from 'eventsource-parser';
import { z } from 'zod';

const changeSchema = z.object({
  seq: z.int(),
  jobId: z.string(),
  type: z.string(),
  detail: z.record(z.string(), z.union([z.string(), z.number(), z.boolean(), z.null()])),
});
export type Change = z.infer<typeof changeSchema>;

export type Changes = {
  /** All changes of a job so far. */
  of(jobId: string): readonly Change[];
  /** Answers the first thing that `look` finds, now or after one of the coming changes; rejects after the deadline. */
  until<T>(what: string, look: () => T | Promise<T>, deadlineMs: number): Promise<Exclude<T, Nothing>>;
  stop(): Promise<void>;
};

type Nothing = false | null | undefined;

const reconnectMs = 100;
/** A look is repeated at least so often, should the stream be silent or broken. */
const patienceMs = 2_000;

export function followChanges(url: string): Changes {
  const ending = new AbortController();
  const changes = new Map<string, Change[]>();
  let lastSeq = 0;
  let news = Promise.withResolvers<void>();
  const following = follow(url, ending.signal, (change) => {
    if (change.seq <= lastSeq) return;
    lastSeq = change.seq;
    changes.set(change.jobId, [...(changes.get(change.jobId) ?? []), change]);
    news.resolve();
    news = Promise.withResolvers();
  });
  return {
    of: (jobId) => changes.get(jobId) ?? [],
    async until(what, look, deadlineMs) {
      const endMs = performance.now() + deadlineMs;
      for (;;) {
        const heard = news.promise;
        const found = await look();
        if (found !== false && found !== null && found !== undefined) return found as never;
        if (performance.now() > endMs) throw new Error(`after ${deadlineMs / 1000} s still not: ${what}`);
        await Promise.race([heard, sleep(patienceMs, undefined, { ref: false })]);
      }
    },
    async stop() {
      ending.abort();
      await following;
    },
  };
}

async function follow(url: string, signal: AbortSignal, take: (change: Change) => void): Promise<void> {
  let lastId = '0';
  const parser = createParser({
    onEvent: (event: EventSourceMessage) => {
      lastId = event.id ?? lastId;
      if (event.event === 'change') take(changeSchema.parse(JSON.parse(event.data)));
    },
  });
  while (!signal.aborted) {
    try {
      const response = await fetch(new URL('/v1/events', url), {
        headers: { 'Last-Event-ID': lastId },
        signal,
      });
      const decoder = new TextDecoder();
      for await (const piece of response.body ?? []) parser.feed(decoder.decode(piece, { stream: true }));
    } catch {
      // Ended by us, or the coordinator is away: it may come again.
    }
    parser.reset();
    await sleep(reconnectMs, undefined, { signal }).catch(() => {});
  }
}
