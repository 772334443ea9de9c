// Every error answer of the HTTP room: an RFC 9457 problem document with a stable `type`. What the house knows comes
// from the one table of codes; the few that only HTTP knows are listed here.
import type { Context } from 'hono';
import { HTTPException } from 'hono/http-exception';
import type { z } from 'zod';
import { type ErrorCode, MillError } from '#shared/errors.ts';
import { type Problem, toProblem } from '#shared/job.ts';

const httpProblems = {
  405: { code: 'method-not-allowed', title: 'This address does not take that method' },
  413: { code: 'body-too-large', title: 'The request is larger than is taken here' },
  415: { code: 'unsupported-media-type', title: 'The request is in another format than is taken here' },
  421: { code: 'other-host', title: 'The request was meant for another host' },
  503: { code: 'not-ready', title: 'Jobs cannot be taken now' },
} as const;
type HttpProblemStatus = keyof typeof httpProblems;

export type ReportFault = (error: unknown, where: string) => void;

/** Answers any thrown value. What nobody foresaw is reported to `reportFault` and told without its inner workings. */
export function answerError(error: unknown, c: Context, reportFault: ReportFault): Response {
  if (error instanceof MillError) {
    if (error.code === 'internal') reportFault(error, `${c.req.method} ${c.req.path}`);
    return answerProblem(c, toProblem(error.code, error.message));
  }
  if (error instanceof HTTPException) return answerProblem(c, problemOfException(error));
  reportFault(error, `${c.req.method} ${c.req.path}`);
  return answerProblem(
    c,
    toProblem('internal', 'A fault in Nightmill itself; the coordinator’s log has the details.'),
  );
}

/** Answers a request that its schema refuses, with every problem of it at once. */
export function answerZodError(error: z.core.$ZodError, c: Context): Response {
  return answerProblem(c, problemOfZodError(error));
}

export function answerUnknownAddress(c: Context): Response {
  return answerCode(
    c,
    'not-found',
    `There is nothing at ${c.req.path}; the addresses are listed at /v1/openapi.json.`,
  );
}

export function answerMethodNotAllowed(c: Context, allowed: readonly string[]): Response {
  c.header('Allow', allowed.join(', '));
  return answerProblem(
    c,
    httpProblem(405, `${c.req.path} takes ${allowed.join(' or ')}, not ${c.req.method}.`),
  );
}

export function answerTooLarge(c: Context, limitBytes: number): Response {
  return answerProblem(
    c,
    httpProblem(413, `A request here has at most ${limitBytes} bytes; send less at a time.`),
  );
}

export function answerOtherHost(c: Context): Response {
  const detail =
    'Without a token this coordinator answers to the names of its own machine only; set a token to use others.';
  return answerProblem(c, httpProblem(421, detail));
}

export function answerNotReady(c: Context, reason: string): Response {
  return answerProblem(c, httpProblem(503, reason));
}

export function answerCode(c: Context, code: ErrorCode, detail: string): Response {
  return answerProblem(c, toProblem(code, detail));
}

export function answerProblem(c: Context, problem: Problem): Response {
  // RFC 9110 section 11.6.1: a 401 names the scheme that would be taken.
  if (problem.status === 401) c.header('WWW-Authenticate', 'Bearer');
  c.header('Content-Type', 'application/problem+json');
  return c.newResponse(JSON.stringify(problem), problem.status as 400);
}

function problemOfZodError(error: z.core.$ZodError): Problem {
  const errors = error.issues.map((issue) => ({ path: issue.path.join('.'), message: issue.message }));
  const [first] = errors;
  const where = first && first.path !== '' ? `${first.path}: ` : '';
  const more = errors.length > 1 ? ` (and ${errors.length - 1} more)` : '';
  return { ...toProblem('bad-request', `${where}${first?.message ?? 'not valid'}${more}`), errors };
}

function problemOfException(error: HTTPException): Problem {
  if (error.status === 415)
    return httpProblem(415, 'Send JSON, with the header Content-Type: application/json.');
  return toProblem(
    error.status === 404 ? 'not-found' : 'bad-request',
    error.message || 'The request cannot be read.',
  );
}

function httpProblem(status: HttpProblemStatus, detail: string): Problem {
  const { code, title } = httpProblems[status];
  return { type: `urn:nightmill:problem:${code}`, title, status, detail };
}
