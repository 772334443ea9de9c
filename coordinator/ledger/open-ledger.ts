// Opens the ledger's SQLite file: durable at every commit, known to be ours and whole, at the newest schema.
import { DatabaseSync } from 'node:sqlite';
import { z } from 'zod';
import { MillError } from '#shared/errors.ts';
import { migrate, schemaVersion } from './migrate.ts';
import { damaged, translateError } from './sqlite-errors.ts';

/** "NMil" in the file's header says that this is a ledger of Nightmill. */
const applicationId = 0x4e4d696c;

const busyTimeoutMs = 5_000;

/**
 * `file` may be `:memory:`. Throws MillError `bad-config` for a file that is damaged, of a newer version, or no ledger
 * at all, and leaves such a file as it is.
 */
export function openLedger(file: string): DatabaseSync {
  let database: DatabaseSync | null = null;
  try {
    database = new DatabaseSync(file, { timeout: busyTimeoutMs, enableForeignKeyConstraints: true });
    const isNew = requireOurs(database, file);
    requireWhole(database, file);
    if (isNew) database.exec(`PRAGMA application_id = ${applicationId}`);
    migrate(database, file);
    database.exec('PRAGMA journal_mode = WAL');
    // A commit is on the disk before it is answered, not only in the system's memory (N8).
    database.exec('PRAGMA synchronous = FULL');
    return database;
  } catch (error) {
    database?.close();
    throw translateError(error, file);
  }
}

/** Answers whether the file is still empty. */
function requireOurs(database: DatabaseSync, file: string): boolean {
  const { application_id: id } = z
    .object({ application_id: z.int() })
    .parse(database.prepare('PRAGMA application_id').get());
  const isEmpty =
    schemaVersion(database) === 0 && database.prepare('SELECT 1 FROM sqlite_schema').get() === undefined;
  if (id === applicationId || (id === 0 && isEmpty)) return id === 0;
  throw new MillError('bad-config', `${file} is a database of another program; give another data folder`);
}

function requireWhole(database: DatabaseSync, file: string): void {
  const { quick_check: verdict } = z
    .object({ quick_check: z.string() })
    .parse(database.prepare('PRAGMA quick_check(1)').get());
  if (verdict !== 'ok') throw damaged(file, verdict);
}
