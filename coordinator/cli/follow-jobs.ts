// Listens to a coordinator's stream of changes for the names of jobs that have news, over breaks of the connection.
import { setTimeout as sleep } from 'node:timers/promises';
import { createParser } from 'eventsource-parser';
import { type Client, Silence } from './client.ts';

/** `anything`: the stream began, or began again after a break, and what happened before is not told. */
export type JobNews = { readonly jobId: string } | 'anything';

const firstPauseMs = 200;
const longestPauseMs = 5_000;

/** Never ends by itself: throws the signal's reason when that fires, and what the coordinator refuses. */
export async function* followJobs(client: Client, signal: AbortSignal): AsyncGenerator<JobNews> {
  for (let pauseMs = firstPauseMs; ; pauseMs = Math.min(longestPauseMs, pauseMs * 2)) {
    try {
      for await (const news of readNews(await client.stream('/v1/events', signal))) {
        pauseMs = firstPauseMs;
        yield news;
      }
    } catch (error) {
      signal.throwIfAborted();
      // A stream that breaks off rejects with fetch's TypeError.
      if (!(error instanceof Silence || error instanceof TypeError)) throw error;
    }
    await sleep(pauseMs, undefined, { signal });
  }
}

async function* readNews(stream: ReadableStream<Uint8Array>): AsyncGenerator<JobNews> {
  const heard: JobNews[] = [];
  const parser = createParser({
    onEvent({ event, data }) {
      if (event === 'start') heard.push('anything');
      if (event === 'change' || event === 'progress') heard.push(JSON.parse(data) as { jobId: string });
    },
  });
  const decoder = new TextDecoder();
  for await (const piece of stream) {
    parser.feed(decoder.decode(piece, { stream: true }));
    yield* heard.splice(0);
  }
}
