// Talks JSON with the coordinator over HTTP: one call, one answer, checked by its schema.
import type { IncomingMessage } from 'node:http';
import { text } from 'node:stream/consumers';
import type { z } from 'zod';
import { followSignals } from '../tools/follow-signal.ts';
import { isErrno } from '../tools/publish-file.ts';
import type { Answer } from './answer.ts';
import { beginRequest, type Coordinator, responseOf } from './http-request.ts';

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
    const response = await send(coordinator, message, end.signal);
    return readAnswer(response.statusCode ?? 0, await text(response), message.reply);
  } catch (error) {
    return { kind: 'silent', reason: limit.aborted ? 'no answer in time' : reasonOf(error) };
  }
}

async function send<T>(
  coordinator: Coordinator,
  message: Message<T>,
  signal: AbortSignal,
): Promise<IncomingMessage> {
  const request = beginRequest(coordinator, {
    method: 'POST',
    path: message.path,
    headers: { 'content-type': 'application/json' },
    signal,
  });
  request.end(JSON.stringify(message.body));
  try {
    return await responseOf(request);
  } catch (error) {
    // The other side closed a resting connection just as it was to be used again: that says nothing about the message.
    if (request.reusedSocket && isErrno(error, 'ECONNRESET')) return send(coordinator, message, signal);
    throw error;
  }
}

/** Judges a status and a body of JSON or text. */
export function readAnswer<T>(status: number, body: string, reply: z.ZodType<T>): Answer<T> {
  // 507, no space in the granary, is an answer: waiting for it would hold the place.
  const passing = (status >= 500 && status !== 507) || status === 429 || status === 408;
  if (passing) return { kind: 'silent', reason: `${status} ${detailOf(body)}` };
  if (status < 200 || status > 299) return { kind: 'refused', status, reason: detailOf(body) };
  const checked = reply.safeParse(parseJson(body));
  if (checked.success) return { kind: 'ok', value: checked.data };
  return {
    kind: 'refused',
    status,
    reason: `an answer of another version: ${checked.error.issues[0]?.message ?? ''}`,
  };
}

/** The innermost reason of a failed connection: it may be wrapped. */
export function reasonOf(error: unknown): string {
  if (error instanceof AggregateError && error.errors.length > 0) return reasonOf(error.errors[0]);
  if (error instanceof Error) return error.cause instanceof Error ? reasonOf(error.cause) : error.message;
  return String(error);
}

/** The one sentence of a problem document (RFC 9457), or the start of whatever came. */
function detailOf(body: string): string {
  const problem = parseJson(body);
  const isProblem = typeof problem === 'object' && problem !== null && 'detail' in problem;
  return isProblem ? String(problem.detail) : body.slice(0, 200);
}

function parseJson(body: string): unknown {
  try {
    return JSON.parse(body);
  } catch {
    return undefined;
  }
}
