// The one error type and the one table of codes. An error says what happened, where, and what to do;
// its code decides how HTTP and the command line answer.

type ErrorKind = { readonly httpStatus: number; readonly title: string; readonly retryable: boolean };

/** Every failure that the house knows. `retryable`: another attempt or another machine may succeed. */
export const errorKinds = {
  'bad-request': { httpStatus: 400, title: 'The request is not valid', retryable: false },
  unauthorised: { httpStatus: 401, title: 'A valid token is needed', retryable: false },
  'not-found': { httpStatus: 404, title: 'There is no such thing here', retryable: false },
  'unknown-format': { httpStatus: 422, title: 'There is no such house format', retryable: false },
  'unknown-volume': { httpStatus: 422, title: 'There is no such volume', retryable: false },
  'outside-volume': { httpStatus: 422, title: 'The path leaves its volume', retryable: false },
  'source-missing': { httpStatus: 422, title: 'The source is not there', retryable: false },
  'source-not-a-file': { httpStatus: 422, title: 'The source is not a file', retryable: false },
  'source-empty': { httpStatus: 422, title: 'The source is empty', retryable: false },
  'source-changed': { httpStatus: 409, title: 'The source changed while it was worked on', retryable: false },
  'not-media': {
    httpStatus: 422,
    title: 'The source is not a media file that is taken here',
    retryable: false,
  },
  'no-picture': { httpStatus: 422, title: 'The source has no picture track', retryable: false },
  'source-truncated': {
    httpStatus: 422,
    title: 'The source ends before its own index says',
    retryable: false,
  },
  'source-damaged': { httpStatus: 422, title: 'Pictures of the source do not decode', retryable: false },
  'too-large': { httpStatus: 422, title: 'The picture is larger than is taken here', retryable: false },
  'destination-exists': { httpStatus: 409, title: 'A file of that name is already there', retryable: false },
  'destination-unwritable': { httpStatus: 422, title: 'The destination cannot be written', retryable: false },
  'no-space': { httpStatus: 507, title: 'There is not enough space', retryable: false },
  'no-lane': { httpStatus: 422, title: 'No machine can encode this format', retryable: false },
  'key-reused': {
    httpStatus: 422,
    title: 'The Idempotency-Key was used for another request',
    retryable: false,
  },
  'wrong-state': { httpStatus: 409, title: 'The job is not in a state for that', retryable: false },
  'stale-attempt': { httpStatus: 409, title: 'This attempt no longer counts', retryable: false },
  'bad-config': { httpStatus: 500, title: 'The configuration is not valid', retryable: false },
  'missing-tool': { httpStatus: 500, title: 'A program that is needed is missing', retryable: false },
  'encoder-failed': { httpStatus: 500, title: 'The encoder failed', retryable: true },
  'signature-mismatch': { httpStatus: 500, title: 'The lane writes another kind of stream', retryable: true },
  'join-failed': { httpStatus: 500, title: 'Joining failed', retryable: true },
  'check-failed': { httpStatus: 500, title: 'The joined file did not pass its checks', retryable: true },
  'delivery-failed': { httpStatus: 500, title: 'Delivery failed', retryable: true },
  timeout: { httpStatus: 500, title: 'A step took longer than it may', retryable: true },
  'agent-lost': { httpStatus: 500, title: 'The machine no longer answers', retryable: true },
  internal: { httpStatus: 500, title: 'A fault in Nightmill itself', retryable: true },
} as const satisfies Record<string, ErrorKind>;

export type ErrorCode = keyof typeof errorKinds;

/** Facts that go with an error: the command, the decisive line of its output, the machine, paths. JSON values only. */
export type ErrorDetails = Readonly<Record<string, string | number | boolean | readonly string[]>>;

/** What failed, in one sentence with what to do. Crosses processes as `Failure` (see failure.ts). */
export class MillError extends Error {
  readonly code: ErrorCode;
  readonly details: ErrorDetails;

  constructor(code: ErrorCode, message: string, options: { details?: ErrorDetails; cause?: unknown } = {}) {
    super(message, options.cause === undefined ? {} : { cause: options.cause });
    this.name = 'MillError';
    this.code = code;
    this.details = options.details ?? {};
  }
}

export function isErrorCode(text: string): text is ErrorCode {
  return Object.hasOwn(errorKinds, text);
}

/** For the default branch of an exhaustive switch: the compiler proves that it is never reached. */
export function assertNever(value: never): never {
  throw new MillError('internal', `unexpected value ${JSON.stringify(value)}; please report this`);
}
