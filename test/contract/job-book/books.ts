// Every kind of JobBook, for suites that hold for all of them.
import { expect, onTestFinished } from 'vitest';
import type { Submission } from '#shared/job.ts';
import type { JobBook } from '../../../coordinator/ledger/job-book.ts';
import { type OpenJobBook, openJobBook, openMemoryBook } from '../../../coordinator/ledger/open-job-book.ts';
import type { JobBookOptions } from '../../../coordinator/ledger/sqlite-job-book.ts';
import type { JobEvent } from '../../../coordinator/state/job-events.ts';
import type { JobRecord } from '../../../coordinator/state/job-record.ts';
import { receivedEvent } from '../../support/job-builders.ts';
import { tempFolder } from '../../support/temp-folder.ts';

type OpenBook = (options: JobBookOptions) => Promise<OpenJobBook>;

export const books: [string, OpenBook][] = [
  ['a book in a data folder', async (options) => openJobBook(await tempFolder(), options)],
  ['a book in memory', async (options) => openMemoryBook(options)],
];

/** A book whose clock goes on by a millisecond with every reading, from 1000 on. Closed after the test. */
export async function openBook(open: OpenBook): Promise<{ book: JobBook; faults: unknown[] }> {
  let nowMs = 1000;
  const faults: unknown[] = [];
  const book = await open({ clock: () => nowMs++, reportFault: (error) => faults.push(error) });
  onTestFinished(() => book.close());
  return { book, faults };
}

export function begin(
  book: JobBook,
  id: string,
  changes: Partial<Submission> & { batchId?: string } = {},
): JobRecord {
  const { batchId = null, ...submission } = changes;
  const event = receivedEvent({ batchId });
  return book.begin({
    id,
    event: { ...event, submission: { ...event.submission, ...submission } },
    key: null,
  });
}

export function recordAll(book: JobBook, id: string, events: readonly JobEvent[]): void {
  for (const event of events) expect(book.record(id, event)).not.toHaveProperty('refused');
}

export function jobId(index: number): string {
  return `jnumber${String(index).padStart(4, '0')}`;
}
