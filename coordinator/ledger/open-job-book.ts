// Opens the book of jobs in a data folder, under the folder's lock.
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { MillError } from '#shared/errors.ts';
import type { JobBook } from './job-book.ts';
import { lockFolder } from './lock-folder.ts';
import { openLedger } from './open-ledger.ts';
import { type JobBookOptions, SqliteJobBook } from './sqlite-job-book.ts';

export type OpenJobBook = JobBook & { close(): void };

const ledgerName = 'ledger.sqlite';

/**
 * Opens the ledger in the data folder, or makes it. Holds the folder for this process until `close`, so open it before
 * anything else there. Throws MillError `bad-config` when another coordinator is at work in the folder, or when the
 * ledger is damaged, of a newer version, or not ours; it is then left as it is.
 */
export function openJobBook(folder: string, options: JobBookOptions): OpenJobBook {
  makeFolder(folder);
  const lock = lockFolder(folder);
  try {
    return openFile(join(folder, ledgerName), options, () => lock.release());
  } catch (error) {
    lock.release();
    throw error;
  }
}

/** A book that is gone when it is closed, for tests and simulations. */
export function openMemoryBook(options: JobBookOptions): OpenJobBook {
  return openFile(':memory:', options, () => {});
}

function makeFolder(folder: string): void {
  try {
    mkdirSync(folder, { recursive: true });
  } catch (cause) {
    throw new MillError(
      'bad-config',
      `the data folder ${folder} can't be made; give another, or see to its permissions`,
      { cause },
    );
  }
}

function openFile(file: string, options: JobBookOptions, afterClose: () => void): OpenJobBook {
  const database = openLedger(file);
  try {
    return new SqliteJobBook(database, options, afterClose);
  } catch (error) {
    database.close();
    throw error;
  }
}
