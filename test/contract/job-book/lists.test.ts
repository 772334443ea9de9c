// Lists of jobs, newest first, by pages.
import { describe, expect, it } from 'vitest';
import type { JobBook, JobListQuery } from '../../../coordinator/ledger/job-book.ts';
import { sampleFailure } from '../../support/job-builders.ts';
import { storyUpTo } from '../../support/job-story.ts';
import { begin, books, jobId, openBook, recordAll } from './books.ts';

describe.each(books)('lists of %s', (_, open) => {
  it('show newest first, page by page, each job once though new ones arrive', async () => {
    const { book } = await openBook(open);
    for (let i = 0; i < 7; i++) begin(book, jobId(i));
    const first = book.list({ limit: 3 });
    begin(book, jobId(7));
    const rest = pages(book, { limit: 3, ...(first.nextCursor ? { cursor: first.nextCursor } : {}) });
    expect([...first.items, ...rest].map((item) => item.id)).toEqual([6, 5, 4, 3, 2, 1, 0].map(jobId));
  });

  it('end without a cursor when the last page is just full', async () => {
    const { book } = await openBook(open);
    for (let i = 0; i < 2; i++) begin(book, jobId(i));
    expect(book.list({ limit: 2 }).nextCursor).toBeNull();
  });

  it('can be narrowed to a state and to a batch', async () => {
    const { book } = await openBook(open);
    for (let i = 0; i < 4; i++) begin(book, jobId(i), { batchId: i % 2 === 0 ? 'beven' : 'bodd' });
    book.record(jobId(0), { type: 'cancelled' });
    const ids = (query: Omit<JobListQuery, 'limit'>) =>
      book.list({ limit: 10, ...query }).items.map((item) => item.id);
    expect(ids({ batchId: 'beven' })).toEqual([2, 0].map(jobId));
    expect(ids({ state: 'received' })).toEqual([3, 2, 1].map(jobId));
    expect(ids({ state: 'cancelled', batchId: 'beven' })).toEqual([jobId(0)]);
    expect(ids({ state: 'delivered' })).toEqual([]);
  });

  it('refuse a cursor that no list gave out', async () => {
    const { book } = await openBook(open);
    expect(() => book.list({ limit: 2, cursor: 'made up' })).toThrow(
      expect.objectContaining({ code: 'bad-request' }),
    );
  });

  it('say how far a job is and why it waits', async () => {
    const { book } = await openBook(open);
    begin(book, 'jsample001', { batchId: 'bsample', priority: 7 });
    const summary = () => book.list({ limit: 1 }).items[0];
    expect(summary()).toEqual({
      id: 'jsample001',
      batchId: 'bsample',
      state: 'received',
      source: 'rushes:day03/A001.mov',
      format: { name: 'sample', version: 3 },
      deliverable: 'share:proxies/A001.mov',
      priority: 7,
      receivedAt: '1970-01-01T00:00:01.000Z',
      changedAt: '1970-01-01T00:00:01.000Z',
      framesDone: 0,
      framesTotal: null,
      reason: null,
    });
    // Two of five grains are stored.
    recordAll(book, 'jsample001', storyUpTo('joining').slice(0, 7));
    expect(summary()).toMatchObject({ state: 'encoding', framesDone: 96, framesTotal: 240, reason: null });
    book.record('jsample001', { type: 'held', reason: sampleFailure('no-space', 'the disk is full') });
    expect(summary()).toMatchObject({ state: 'held', reason: 'the disk is full' });
    book.record('jsample001', { type: 'retried' });
    expect(summary()).toMatchObject({ state: 'encoding', reason: null });
  });
});

function pages(book: JobBook, query: JobListQuery): ReturnType<JobBook['list']>['items'] {
  const { items, nextCursor } = book.list(query);
  return nextCursor === null ? items : [...items, ...pages(book, { ...query, cursor: nextCursor })];
}
