// Brings a ledger to the newest schema, one version after another, each in a transaction of its own.
import type { DatabaseSync } from 'node:sqlite';
import { z } from 'zod';
import { MillError } from '#shared/errors.ts';
import { migration1 } from './migration-1.ts';
import { inTransaction } from './transaction.ts';

/** In order: the first makes version 1 of an empty file. A migration that was released is never changed. */
const migrations: readonly string[] = [migration1];

/** Throws MillError `bad-config` for a ledger of a newer version, before anything is written. */
export function migrate(database: DatabaseSync, file: string, steps: readonly string[] = migrations): void {
  const version = schemaVersion(database);
  if (version > steps.length) {
    throw new MillError(
      'bad-config',
      `the ledger ${file} has schema version ${version}, this program knows ${steps.length}; start the newer Nightmill that wrote it, or give another data folder`,
      { details: { ledger: file } },
    );
  }
  for (const [index, step] of steps.entries()) {
    if (index < version) continue;
    inTransaction(database, () => {
      database.exec(step);
      database.exec(`PRAGMA user_version = ${index + 1}`);
    });
  }
}

export function schemaVersion(database: DatabaseSync): number {
  return z.object({ user_version: z.int() }).parse(database.prepare('PRAGMA user_version').get())
    .user_version;
}
