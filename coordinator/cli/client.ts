// Talks to a coordinator over HTTP. Answers are trusted to be what their address promises: both ends are one program.
import type { Problem } from '#shared/job.ts';
import { CommandError, type ExitCode, exitCodes } from './exit-codes.ts';

export type Client = {
  get<T>(path: string): Promise<T>;
  post<T>(path: string, body?: unknown, headers?: Readonly<Record<string, string>>): Promise<T>;
  /** An answer that goes on until `signal` fires; reading it is the caller's business. */
  stream(path: string, signal: AbortSignal): Promise<ReadableStream<Uint8Array>>;
};

export type ClientOptions = {
  readonly url: string;
  readonly token: string | null;
  /** Breaks off every request. */
  readonly signal: AbortSignal;
};

/** The coordinator said no. */
export class Refusal extends CommandError {
  readonly problem: Problem;

  constructor(problem: Problem) {
    super(problem.status < 500 ? exitCodes.wrongRequest : exitCodes.workFailed, sentenceOf(problem));
    this.name = 'Refusal';
    this.problem = problem;
  }
}

/** The coordinator said nothing. */
export class Silence extends CommandError {
  constructor(exitCode: ExitCode, message: string, cause: unknown) {
    super(exitCode, message, { cause });
    this.name = 'Silence';
  }
}

/** Every call throws `Refusal` or `Silence`, or the signal's reason when that fired. */
export function createClient(options: ClientOptions): Client {
  return {
    get: (path) => ask(options, path),
    async post(path, body, headers = {}) {
      if (body === undefined) return ask(options, path, { method: 'POST', headers });
      const json = { 'Content-Type': 'application/json', ...headers };
      return ask(options, path, { method: 'POST', headers: json, body: JSON.stringify(body) });
    },
    stream: (path, signal) =>
      unlessSilent({ ...options, signal }, async () => {
        const { body } = await send({ ...options, signal }, path);
        if (body === null) throw new TypeError('it answered with nothing');
        return body;
      }),
  };
}

type Sending = {
  readonly method?: 'POST';
  readonly headers?: Readonly<Record<string, string>>;
  readonly body?: string;
};

function ask<T>(options: ClientOptions, path: string, sending: Sending = {}): Promise<T> {
  return unlessSilent(options, async () => (await (await send(options, path, sending)).json()) as T);
}

async function send(
  { url, token, signal }: ClientOptions,
  path: string,
  sending: Sending = {},
): Promise<Response> {
  const headers = { ...sending.headers, ...(token === null ? {} : { Authorization: `Bearer ${token}` }) };
  const answer = await fetch(new URL(path, url), { ...sending, headers, signal });
  if (answer.ok) return answer;
  throw new Refusal(await readProblem(answer));
}

/** What fetch and the reading of an answer throw is turned into `Silence`. */
async function unlessSilent<T>({ url, signal }: ClientOptions, talk: () => Promise<T>): Promise<T> {
  try {
    return await talk();
  } catch (error) {
    if (error instanceof Refusal) throw error;
    signal.throwIfAborted();
    throw new Silence(
      exitCodes.workFailed,
      `no coordinator answers at ${url} (${reasonOf(error)}); start one with "nightmill coordinator", or name another with --coordinator`,
      error,
    );
  }
}

async function readProblem(answer: Response): Promise<Problem> {
  const text = await answer.text();
  try {
    return JSON.parse(text) as Problem;
  } catch {
    // Something stands between us and the coordinator, or it isn't one.
    const detail = `the answer was ${answer.status} ${answer.statusText}, which is not what a coordinator says`;
    return { type: 'about:blank', title: answer.statusText, status: answer.status, detail };
  }
}

function sentenceOf({ detail, errors = [] }: Problem): string {
  if (errors.length < 2) return detail;
  const lines = errors.map(({ path, message }) => `\n  ${path === '' ? '' : `${path}: `}${message}`);
  return `the request is not valid:${lines.join('')}`;
}

/** The innermost reason: fetch wraps what really happened. */
function reasonOf(error: unknown): string {
  if (error instanceof AggregateError && error.errors.length > 0) return reasonOf(error.errors[0]);
  if (!(error instanceof Error)) return String(error);
  if (error.cause instanceof Error) return reasonOf(error.cause);
  return 'code' in error ? String(error.code) : error.message;
}
