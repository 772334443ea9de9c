// Talks JSON with the coordinator over HTTP: one call, one answer, checked by its schema.
import type { z } from 'zod';
import { followSignals } from '../tools/follow-signal.ts';
import type { Answer } from './answer.ts';

export type Coordinator = {
  readonly baseUrl: URL;
  readonly token: string | null;
};

export type Message<T> = {
  /** Below the coordinator's URL: `v1/agents`. */
  readonly path: string;
  readonly body: unknown;
  readonly reply: z.ZodType<T>;
  readonly signal: AbortSignal;
  readonly timeoutMs?: number;
};

const defaultTimeoutMs = 10_000;

/** Never rejects: what keeps an answer from coming is part of the answer. */
export async function post<T>(coordinator: Coordinator, message: Message<T>): Promise<Answer<T>> {
  const limit = AbortSignal.timeout(message.timeoutMs ?? defaultTimeoutMs);
  using end = followSignals(limit, message.signal);
  try {
    const response = await fetch(urlOf(coordinator, message.path), {
      method: 'POST',
      headers: { ...authorisation(coordinator), 'content-type': 'application/json' },
      body: JSON.stringify(message.body),
      signal: end.signal,
    });
    return readAnswer(response.status, await response.text(), message.reply);
  } catch (error) {
    return { kind: 'silent', reason: limit.aborted ? 'no answer in time' : reasonOf(error) };
  }
}

/** `path` below the coordinator's URL, which may itself have a path (a proxy's). */
export function urlOf({ baseUrl }: Coordinator, path: string): URL {
  return new URL(path, baseUrl.href.endsWith('/') ? baseUrl : `${baseUrl.href}/`);
}

export function authorisation({ token }: Coordinator): Record<string, string> {
  return token === null ? {} : { authorization: `Bearer ${token}` };
}

/** Judges a status and a body of JSON or text. */
export function readAnswer<T>(status: number, text: string, reply: z.ZodType<T>): Answer<T> {
  // 507, no space in the granary, is an answer: waiting for it would hold the place.
  const passing = (status >= 500 && status !== 507) || status === 429 || status === 408;
  if (passing) return { kind: 'silent', reason: `${status} ${detailOf(text)}` };
  if (status < 200 || status > 299) return { kind: 'refused', status, reason: detailOf(text) };
  const checked = reply.safeParse(parseJson(text));
  if (checked.success) return { kind: 'ok', value: checked.data };
  return {
    kind: 'refused',
    status,
    reason: `an answer of another version: ${checked.error.issues[0]?.message ?? ''}`,
  };
}

/** The innermost reason of a failed connection: fetch wraps it. */
export function reasonOf(error: unknown): string {
  if (error instanceof AggregateError && error.errors.length > 0) return reasonOf(error.errors[0]);
  if (error instanceof Error) return error.cause instanceof Error ? reasonOf(error.cause) : error.message;
  return String(error);
}

/** The one sentence of a problem document (RFC 9457), or the start of whatever came. */
function detailOf(text: string): string {
  const problem = parseJson(text);
  const isProblem = typeof problem === 'object' && problem !== null && 'detail' in problem;
  return isProblem ? String(problem.detail) : text.slice(0, 200);
}

function parseJson(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
