// Talks to the coordinator as an editor's script would: plain HTTP, JSON, and the stream of changes.
import { EventSourceParserStream } from 'eventsource-parser/stream';
import type { Problem } from '#shared/job.ts';

/** Rejects with the coordinator's own sentence when it refuses. */
export async function ask<T>(url: string, path: string, signal: AbortSignal): Promise<T> {
  return answerOf<T>(await fetch(new URL(path, url), { signal }));
}

/** The key makes sure that a request that is sent again makes no second job. */
export async function send<T>(
  url: string,
  path: string,
  request: { readonly key: string; readonly body: object; readonly signal: AbortSignal },
): Promise<T> {
  return answerOf<T>(
    await fetch(new URL(path, url), {
      method: 'POST',
      headers: { 'Content-Type': 'application/json', 'Idempotency-Key': request.key },
      body: JSON.stringify(request.body),
      signal: request.signal,
    }),
  );
}

export type NewsItem = { readonly event: string; readonly data: unknown };

/** Everything that happened since the ledger began, then what happens. Ends when the connection does. */
export async function* followNews(url: string, signal: AbortSignal): AsyncGenerator<NewsItem> {
  const { body } = await fetch(new URL('/v1/events?after=0', url), { signal });
  if (body === null) return;
  const events = body.pipeThrough(new TextDecoderStream()).pipeThrough(new EventSourceParserStream());
  for await (const { event = 'message', data } of events) yield { event, data: JSON.parse(data) };
}

async function answerOf<T>(response: Response): Promise<T> {
  if (response.ok) return (await response.json()) as T;
  const { detail } = (await response.json().catch(() => ({ detail: response.statusText }))) as Pick<
    Problem,
    'detail'
  >;
  throw new Error(`the coordinator answered ${response.status}: ${detail}`);
}
