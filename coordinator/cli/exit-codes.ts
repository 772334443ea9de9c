// How the command line ends: 0 done, 1 the work failed, 2 the request was wrong, 130 interrupted.
import { errorKinds, MillError } from '#shared/errors.ts';

export const exitCodes = { done: 0, workFailed: 1, wrongRequest: 2, interrupted: 130 } as const;
export type ExitCode = (typeof exitCodes)[keyof typeof exitCodes];

/** A failure that a command tells in one sentence before it ends. */
export class CommandError extends Error {
  readonly exitCode: ExitCode;

  constructor(exitCode: ExitCode, message: string, options?: ErrorOptions) {
    super(message, options);
    this.name = 'CommandError';
    this.exitCode = exitCode;
  }
}

export function exitCodeOf(error: unknown): ExitCode {
  if (error instanceof CommandError) return error.exitCode;
  if (!(error instanceof MillError)) return exitCodes.workFailed;
  // What is wrong with the configuration is wrong with the request, though HTTP calls it a fault of the server.
  const asked = error.code === 'bad-config' || errorKinds[error.code].httpStatus < 500;
  return asked ? exitCodes.wrongRequest : exitCodes.workFailed;
}
