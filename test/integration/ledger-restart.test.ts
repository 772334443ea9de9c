// The ledger after the coordinator ended, in whatever way (N8).

import { cp } from 'node:fs/promises';
import { join } from 'node:path';
import { execa } from 'execa';
import { expect, it, onTestFinished } from 'vitest';
import { type OpenJobBook, openJobBook } from '../../coordinator/ledger/open-job-book.ts';
import type { JobEvent } from '../../coordinator/state/job-events.ts';
import { receivedEvent, sampleFailure } from '../support/job-builders.ts';
import { storyUpTo } from '../support/job-story.ts';
import { tempFolder } from '../support/temp-folder.ts';

const options = { clock: () => 1000, reportFault: () => {} };
const writer = join(import.meta.dirname, '../support/programs/write-ledger.ts');

it('gives the same records and lists as before', async () => {
  const folder = await tempFolder();
  const before = openJobBook(folder, options);
  const stories: JobEvent[][] = [
    storyUpTo('delivered'),
    storyUpTo('joining'),
    [...storyUpTo('encoding'), { type: 'held', reason: sampleFailure() }],
    [{ type: 'cancelled' }],
  ];
  for (const [index, story] of stories.entries()) {
    const { id } = before.begin({
      id: `jsample00${index}`,
      event: receivedEvent(),
      key: { key: `${index}`, fingerprint: 'x' },
    });
    for (const event of story) before.record(id, event);
  }
  const seen = look(before);
  before.close();

  const after = openAgain(folder);
  expect(look(after)).toEqual(seen);
});

it('knows every event at any instant at which the coordinator may die', async () => {
  const [folder, copies] = [await tempFolder(), await tempFolder()];
  const live = openJobBook(folder, options);
  onTestFinished(() => live.close());
  live.begin({ id: 'jsample001', event: receivedEvent(), key: null });
  for (const [index, event] of storyUpTo('delivered').entries()) {
    live.record('jsample001', event);
    const copy = join(copies, String(index));
    await cp(folder, copy, { recursive: true });
    expect(look(openAgain(copy))).toEqual(look(live));
  }
});

it('holds all that was answered when the process is killed while it writes', async () => {
  const folder = await tempFolder();
  const child = execa(process.execPath, [writer, folder], { reject: false });
  const answered: string[] = [];
  for await (const line of child) {
    answered.push(line);
    if (answered.length === 25) child.kill('SIGKILL');
  }
  expect((await child).isTerminated).toBe(true);

  // The dead process's lock went with it.
  const book = openAgain(folder);
  const ids = book.working().map((record) => record.id);
  expect(answered.length).toBeGreaterThanOrEqual(25);
  expect(ids.slice(0, answered.length)).toEqual(answered);
  // At most one was written without having been answered.
  expect(ids.length - answered.length).toBeLessThanOrEqual(1);
});

function openAgain(folder: string): OpenJobBook {
  const book = openJobBook(folder, options);
  onTestFinished(() => book.close());
  return book;
}

function look(book: OpenJobBook) {
  const { items } = book.list({ limit: 100 });
  return {
    items,
    records: items.map((item) => book.get(item.id)),
    working: book.working(),
    events: book.events(0, 1000),
    key: book.findByKey('0'),
  };
}
