// One coordinator per data folder. The lock is one of the operating system's on a file, so that it ends with the
// process that holds it, however that ends. SQLite takes it, because it knows how to on every platform.
import { join } from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { MillError } from '#shared/errors.ts';
import { isSqliteError, sqliteCodes, translateError } from './sqlite-errors.ts';

const lockName = 'coordinator.lock';

/** Holds the folder until `release`. Throws MillError `bad-config` when another coordinator holds it. */
export function lockFolder(folder: string): { release(): void } {
  const file = join(folder, lockName);
  try {
    const lock = new DatabaseSync(file, { timeout: 0 });
    lock.exec('BEGIN EXCLUSIVE');
    return { release: () => lock.close() };
  } catch (cause) {
    if (!isSqliteError(cause, sqliteCodes.busy)) throw translateError(cause, file);
    const message = `another coordinator is at work in ${folder}; stop it, or give this one a data folder of its own`;
    throw new MillError('bad-config', message, { details: { lock: file }, cause });
  }
}
