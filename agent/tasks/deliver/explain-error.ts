// A file system's error on the destination, in the house's own codes and words.
import { MillError } from '#shared/errors.ts';
import { isErrno } from '../../tools/publish-file.ts';

/** MillErrors and an abort stay what they are. */
export function explainError(error: unknown, target: string, signal: AbortSignal): unknown {
  if (error instanceof MillError || signal.aborted) return error;
  const options = { cause: error, details: { path: target } };
  if (isErrno(error, 'ENOSPC', 'EDQUOT', 'EFBIG')) {
    return new MillError(
      'no-space',
      `the destination is full or at its limit at ${target}; free some space and retry`,
      options,
    );
  }
  if (isErrno(error, 'EACCES', 'EPERM', 'EROFS', 'EISDIR', 'ENAMETOOLONG')) {
    return new MillError(
      'destination-unwritable',
      `${target} cannot be written (${messageOf(error)}); check permissions and name`,
      options,
    );
  }
  return new MillError(
    'delivery-failed',
    `${target} could not be written (${messageOf(error)}); retry when the destination answers`,
    options,
  );
}

function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
