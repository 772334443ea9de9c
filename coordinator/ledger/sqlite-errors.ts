// SQLite's errors as the ledger tells them: what happened to which file, and what to do.
import { MillError } from '#shared/errors.ts';

/** Primary result codes, https://www.sqlite.org/rescode.html. */
export const sqliteCodes = {
  busy: 5,
  readOnly: 8,
  corrupt: 11,
  full: 13,
  cannotOpen: 14,
  notADatabase: 26,
} as const;

type SqliteError = Error & { readonly errcode: number };

export function isSqliteError(error: unknown, code?: number): error is SqliteError {
  if (!(error instanceof Error) || !('errcode' in error) || typeof error.errcode !== 'number') return false;
  // An extended code carries its primary code in the low byte.
  return code === undefined || (error.errcode & 0xff) === code;
}

/** SQLite's errors with the ledger at `file` as MillError; everything else as it is. */
export function translateError(error: unknown, file: string): unknown {
  if (!isSqliteError(error)) return error;
  const options = { details: { ledger: file }, cause: error };
  switch (error.errcode & 0xff) {
    case sqliteCodes.full:
      return new MillError(
        'no-space',
        `the disk that holds the ledger ${file} is full; make room there`,
        options,
      );
    case sqliteCodes.corrupt:
    case sqliteCodes.notADatabase:
      return damaged(file, error.message, error);
    case sqliteCodes.cannotOpen:
    case sqliteCodes.readOnly:
      return new MillError(
        'bad-config',
        `the ledger ${file} can't be written; check the folder's permissions`,
        options,
      );
    default:
      return new MillError(
        'internal',
        `the ledger ${file} can't be read or written: ${error.message}`,
        options,
      );
  }
}

/** A ledger that can't be trusted. It is left as it is: its good part may still be got out. */
export function damaged(file: string, reason: string, cause?: unknown): MillError {
  const message = `the ledger ${file} is damaged (${reason}); it was left as it is. Put a backup in its place, or start with another data folder`;
  return new MillError('bad-config', message, { details: { ledger: file }, cause });
}
