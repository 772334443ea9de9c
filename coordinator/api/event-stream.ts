// The stream of changes, as server-sent events. Changes come out of the book by their numbers, so that a client that
// was away goes on where it stopped and a slow one misses nothing; progress is passing news without a number.
import { createRoute, type OpenAPIHono, z } from '@hono/zod-openapi';
import { type SSEStreamingApi, streamSSE } from 'hono/streaming';
import { MillError } from '#shared/errors.ts';
import type { ApiPorts } from './api-ports.ts';
import { createBell } from './bell.ts';
import { commonProblems, problem } from './documented.ts';
import { changeSchema, viewChange } from './views/event-view.ts';
import { runningRate } from './views/segment-view.ts';

export type StreamTiming = {
  /** A comment is sent after so long a silence, so that nothing between us and the client takes it for dead. */
  readonly keepAliveMs: number;
  /** Shortest time between two rounds of progress. */
  readonly progressMs: number;
};

const eventsAtATime = 200;

const eventsRoute = createRoute({
  method: 'get',
  path: '/v1/events',
  tags: ['jobs'],
  summary: 'Changes of jobs as they happen (server-sent events)',
  description:
    'Events `start` (the number after which it tells), `change` (a Change, with its number as id) and `progress` ' +
    '(no id). Starts now, or after `Last-Event-ID`, or after the query’s `after`; 0 tells everything from the beginning.',
  request: {
    headers: z.object({ 'last-event-id': z.string().optional() }),
    query: z.object({ after: z.coerce.number().int().min(0).optional(), job: z.string().min(1).optional() }),
  },
  responses: {
    200: { description: 'An endless stream', content: { 'text/event-stream': { schema: z.string() } } },
    400: problem('The number to start after is not valid'),
    ...commonProblems,
  },
});

export function addEventStream(app: OpenAPIHono, ports: ApiPorts, timing: StreamTiming): void {
  // No answer of a route has this shape by itself: it is the data of events.
  app.openAPIRegistry.register('Change', changeSchema.clone());
  app.openapi(eventsRoute, (c) => {
    const { after, job } = c.req.valid('query');
    const wanted = lastEventId(c.req.header('Last-Event-ID')) ?? after;
    // A number from the future belongs to another ledger; from here on is the best that can be told.
    const start = Math.min(wanted ?? Number.MAX_SAFE_INTEGER, ports.book.lastSeq());
    return streamSSE(c, (stream) => follow(stream, ports, { start, jobId: job ?? null, timing }));
  });
}

type Following = { readonly start: number; readonly jobId: string | null; readonly timing: StreamTiming };

async function follow(
  stream: SSEStreamingApi,
  ports: ApiPorts,
  { start, jobId, timing }: Following,
): Promise<void> {
  const bell = createBell();
  const news = collectProgress(ports, jobId, bell.ring);
  const stopListening = ports.book.onEvent(bell.ring);
  stream.onAbort(bell.ring);
  try {
    // Tells the client at once that it is connected, and from where to go on should the connection break before
    // anything happens. `retry` is when to come back, ms.
    await stream.writeSSE({
      event: 'start',
      id: String(start),
      retry: 2000,
      data: JSON.stringify({ seq: start }),
    });
    let after = start;
    let progressDueMs = 0;
    while (!stream.aborted) {
      after = await sendChanges(stream, ports, { after, jobId });
      const nowMs = performance.now();
      if (news.pending() && nowMs >= progressDueMs) {
        progressDueMs = nowMs + timing.progressMs;
        for (const data of news.take()) await stream.writeSSE({ event: 'progress', data });
      }
      const patienceMs = news.pending() ? Math.max(1, progressDueMs - performance.now()) : timing.keepAliveMs;
      const rung = await bell.wait(patienceMs);
      if (!rung && !news.pending()) await stream.write(': still here\n\n');
    }
  } finally {
    stopListening();
    news.stop();
  }
}

async function sendChanges(
  stream: SSEStreamingApi,
  ports: ApiPorts,
  { after, jobId }: { after: number; jobId: string | null },
): Promise<number> {
  let sent = after;
  for (;;) {
    const events = ports.book.events(sent, eventsAtATime);
    for (const stored of events) {
      if (stream.aborted) return sent;
      sent = stored.seq;
      if (jobId !== null && stored.jobId !== jobId) continue;
      await stream.writeSSE({
        id: String(stored.seq),
        event: 'change',
        data: JSON.stringify(viewChange(stored)),
      });
    }
    if (events.length < eventsAtATime) return sent;
  }
}

/** Keeps the newest progress of each attempt until it is taken; rings when there is some after there was none. */
function collectProgress(ports: ApiPorts, wantedJob: string | null, ring: () => void) {
  const newest = new Map<string, string>();
  const stop = ports.farm.onProgress((jobId, attempt, progress) => {
    if (wantedJob !== null && wantedJob !== jobId) return;
    const { frames } = progress;
    newest.set(
      `${jobId} ${attempt}`,
      JSON.stringify({ jobId, attempt, frames, framesPerSecond: runningRate(progress) }),
    );
    if (newest.size === 1) ring();
  });
  const take = () => {
    const all = [...newest.values()];
    newest.clear();
    return all;
  };
  return { pending: () => newest.size > 0, take, stop };
}

function lastEventId(header: string | undefined): number | null {
  if (header === undefined || header === '') return null;
  if (!/^\d{1,15}$/.test(header)) {
    throw new MillError(
      'bad-request',
      'Last-Event-ID: send the id of an event of this stream, or leave the header out.',
    );
  }
  return Number(header);
}
