// All or nothing: what `work` writes is durable when this returns, and undone when it throws.
import type { DatabaseSync } from 'node:sqlite';
import { translateError } from './sqlite-errors.ts';

/** Throws MillError `no-space`, `bad-config` or `internal` when the ledger can't be written. */
export function inTransaction<Result>(database: DatabaseSync, work: () => Result): Result {
  try {
    database.exec('BEGIN IMMEDIATE');
    const result = work();
    database.exec('COMMIT');
    return result;
  } catch (error) {
    // SQLite ends the transaction itself after some errors, a full disk for example.
    if (database.isTransaction) database.exec('ROLLBACK');
    throw translateError(error, database.location() ?? 'in memory');
  }
}
