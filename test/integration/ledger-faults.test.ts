// Ledgers that can't be opened: told in one clear sentence, and left as they are.

import { createHash } from 'node:crypto';
import { readFile, truncate, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { execa } from 'execa';
import { expect, it, onTestFinished } from 'vitest';
import { MillError } from '#shared/errors.ts';
import { migrate, schemaVersion } from '../../coordinator/ledger/migrate.ts';
import { openJobBook } from '../../coordinator/ledger/open-job-book.ts';
import { openLedger } from '../../coordinator/ledger/open-ledger.ts';
import { inTransaction } from '../../coordinator/ledger/transaction.ts';
import { receivedEvent } from '../support/job-builders.ts';
import { storyUpTo } from '../support/job-story.ts';
import { tempFolder } from '../support/temp-folder.ts';

const options = { clock: () => 1000, reportFault: () => {} };

it('a file that is no database', async () => {
  const folder = await tempFolder();
  await writeFile(join(folder, 'ledger.sqlite'), 'not a ledger at all, but a shopping list\n'.repeat(200));
  await expectRefused(folder, 'bad-config', 'is damaged (file is not a database); it was left as it is');
});

it('a ledger with a spoilt page', async () => {
  const folder = await filledFolder();
  const file = join(folder, 'ledger.sqlite');
  const bytes = await readFile(file);
  bytes.fill(0x5a, 4096, 8192);
  await writeFile(file, bytes);
  await expectRefused(folder, 'bad-config', 'is damaged');
});

it('a ledger that lost its end', async () => {
  const folder = await filledFolder();
  await truncate(join(folder, 'ledger.sqlite'), 8192);
  await expectRefused(folder, 'bad-config', 'is damaged');
});

it('a ledger of a newer version', async () => {
  const folder = await filledFolder();
  edit(folder, 'PRAGMA user_version = 99');
  await expectRefused(folder, 'bad-config', 'has schema version 99, this program knows 1');
});

it('a database of another program', async () => {
  const folder = await tempFolder();
  edit(folder, 'CREATE TABLE shopping (item TEXT)');
  await expectRefused(folder, 'bad-config', 'is a database of another program');
});

it('a job whose event no longer fits its schema', async () => {
  const folder = await filledFolder();
  edit(folder, `UPDATE events SET data = '{"type":"planned","plan":null}' WHERE type = 'planned'`);
  await expectRefused(folder, 'internal', "event 4 of job jsample001 in the ledger can't be read");
});

it('a job whose events contradict each other', async () => {
  const folder = await filledFolder();
  edit(folder, `DELETE FROM events WHERE type = 'planned'`);
  await expectRefused(
    folder,
    'internal',
    "job jsample001 can't be rebuilt from the ledger: event 5 (opened): there is no plan",
  );
});

it('a folder in which another coordinator is at work, in this process or another', async () => {
  const folder = await tempFolder();
  const first = openJobBook(folder, options);
  expect(() => openJobBook(folder, options)).toThrow('another coordinator is at work in');
  const program = join(import.meta.dirname, '../support/programs/write-ledger.ts');
  const other = await execa(process.execPath, [program, folder], {
    reject: false,
    maxBuffer: 100_000,
    timeout: 30_000,
  });
  expect(other.exitCode).toBe(1);
  expect(other.stderr).toContain('another coordinator is at work in');
  first.close();
  openJobBook(folder, options).close();
});

it('a data folder that is a file', async () => {
  const file = join(await tempFolder(), 'data');
  await writeFile(file, '');
  expect(() => openJobBook(file, options)).toThrow(expect.objectContaining({ code: 'bad-config' }));
});

it('a disk that is full: nothing of the transaction stays', () => {
  const database = openLedger(':memory:');
  onTestFinished(() => database.close());
  database.exec('PRAGMA max_page_count = 20');
  const fill = () =>
    inTransaction(database, () => {
      for (let i = 0; i < 100; i++) {
        database.exec(
          `INSERT INTO jobs (id, state, summary) VALUES ('j${i}', 'received', '${'x'.repeat(4000)}')`,
        );
      }
    });
  expect(fill).toThrow(expect.objectContaining({ code: 'no-space' }));
  expect(database.prepare('SELECT id FROM jobs').all()).toEqual([]);
  expect(database.isTransaction).toBe(false);
});

it('a ledger of an older version is brought up to date step by step, a step that fails leaving no trace', () => {
  const database = new DatabaseSync(':memory:');
  onTestFinished(() => database.close());
  const steps = ['CREATE TABLE a (x)', 'INSERT INTO a VALUES (1); CREATE TABLE b (x)'];
  migrate(database, 'x', steps.slice(0, 1));
  migrate(database, 'x', steps);
  migrate(database, 'x', steps);
  expect(schemaVersion(database)).toBe(2);
  expect(() => migrate(database, 'x', [...steps, 'INSERT INTO a VALUES (2); nonsense'])).toThrow(
    'syntax error',
  );
  expect(schemaVersion(database)).toBe(2);
  expect(database.prepare('SELECT x FROM a').all()).toEqual([{ x: 1 }]);
});

async function filledFolder(): Promise<string> {
  const folder = await tempFolder();
  const book = openJobBook(folder, options);
  book.begin({ id: 'jsample001', event: receivedEvent(), key: null });
  for (const event of storyUpTo('joining')) book.record('jsample001', event);
  book.close();
  return folder;
}

function edit(folder: string, sql: string): void {
  const database = new DatabaseSync(join(folder, 'ledger.sqlite'));
  database.exec(sql);
  database.close();
}

async function expectRefused(folder: string, code: MillError['code'], message: string): Promise<void> {
  const file = join(folder, 'ledger.sqlite');
  const hash = async () =>
    createHash('sha256')
      .update(await readFile(file))
      .digest('hex');
  const before = await hash();
  const error = catchError(() => openJobBook(folder, options));
  expect(error).toBeInstanceOf(MillError);
  expect(error).toMatchObject({ code, message: expect.stringContaining(message) });
  expect(await hash()).toBe(before);
  // The lock was given back: asking again gives the same answer.
  expect(() => openJobBook(folder, options)).toThrow(message);
}

function catchError(work: () => unknown): unknown {
  try {
    work();
  } catch (error) {
    return error;
  }
  return undefined;
}
