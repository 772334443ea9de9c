// Events: numbered over all jobs, told to listeners once they are durable.
import { describe, expect, it } from 'vitest';
import type { StoredEvent } from '../../../coordinator/ledger/job-book.ts';
import type { JobRecord } from '../../../coordinator/state/job-record.ts';
import { begin, books, openBook } from './books.ts';

describe.each(books)('events of %s', (_, open) => {
  it('are numbered over all jobs and read from any number on', async () => {
    const { book } = await openBook(open);
    expect(book.lastSeq()).toBe(0);
    begin(book, 'jfirst0001');
    begin(book, 'jsecond001');
    book.record('jfirst0001', { type: 'cancelled' });
    expect(book.lastSeq()).toBe(3);
    expect(book.events(0, 10).map((stored) => [stored.seq, stored.jobId, stored.event.type])).toEqual([
      [1, 'jfirst0001', 'received'],
      [2, 'jsecond001', 'received'],
      [3, 'jfirst0001', 'cancelled'],
    ]);
    expect(book.events(1, 1).map(({ seq }) => seq)).toEqual([2]);
    expect(book.events(3, 10)).toEqual([]);
  });

  it('reach listeners once they are in the book, until these stop listening', async () => {
    const { book } = await openBook(open);
    const heard: [StoredEvent, JobRecord][] = [];
    const stop = book.onEvent((stored, record) => {
      expect(book.events(stored.seq - 1, 1)).toEqual([stored]);
      expect(book.get(stored.jobId)).toBe(record);
      heard.push([stored, record]);
    });
    begin(book, 'jsample001');
    stop();
    book.record('jsample001', { type: 'cancelled' });
    expect(heard.map(([stored, record]) => [stored.event.type, record.state])).toEqual([
      ['received', 'received'],
    ]);
  });

  it('reach listeners in order, even when one of them causes the next', async () => {
    const { book } = await openBook(open);
    const heard: number[] = [];
    book.onEvent((stored) => {
      if (stored.event.type === 'received') book.record(stored.jobId, { type: 'cancelled' });
    });
    book.onEvent((stored) => heard.push(stored.seq));
    begin(book, 'jsample001');
    expect(heard).toEqual([1, 2]);
    expect(book.get('jsample001')?.state).toBe('cancelled');
  });

  it('reach the other listeners when one throws, and the book goes on', async () => {
    const { book, faults } = await openBook(open);
    const heard: number[] = [];
    book.onEvent(() => {
      throw new Error('a listener’s fault');
    });
    book.onEvent((stored) => heard.push(stored.seq));
    begin(book, 'jsample001');
    book.record('jsample001', { type: 'cancelled' });
    expect(heard).toEqual([1, 2]);
    expect(faults).toHaveLength(2);
  });
});
