// Who may ask: the bearer token, compared in constant time, and without a token only requests that were meant for
// this very machine, so that a page in a browser can't reach the coordinator through a name of its own.
import { createHash, timingSafeEqual } from 'node:crypto';
import type { Context, MiddlewareHandler } from 'hono';
import { answerCode, answerOtherHost } from './problems.ts';

/** Alive and ready are for probes, which carry no token and learn nothing else. */
const openPaths = new Set(['/healthz', '/readyz']);
const loopbackNames = new Set(['localhost', '127.0.0.1', '[::1]']);

export function guard(token: string | null): MiddlewareHandler {
  if (token === null) return async (c, next) => (isForThisMachine(c) ? next() : answerOtherHost(c));
  const wanted = digest(token);
  return async (c, next) => {
    if (openPaths.has(c.req.path)) return next();
    const given = bearerToken(c.req.header('Authorization'));
    // Digests have equal lengths, so the comparison's time tells nothing about the token.
    if (given !== null && timingSafeEqual(digest(given), wanted)) return next();
    return answerCode(
      c,
      'unauthorised',
      'Send the header Authorization: Bearer TOKEN with the token of this coordinator.',
    );
  };
}

function isForThisMachine(c: Context): boolean {
  return loopbackNames.has(new URL(c.req.url).hostname);
}

/** The token of an Authorization header; the scheme's name is written in any case (RFC 9110 section 11.1). */
function bearerToken(header: string | undefined): string | null {
  return /^Bearer +(\S+) *$/i.exec(header ?? '')?.[1] ?? null;
}

function digest(text: string): Buffer {
  return createHash('sha256').update(text).digest();
}
