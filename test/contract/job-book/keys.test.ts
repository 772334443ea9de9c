// Idempotency keys: asking again never makes a second job.
import { describe, expect, it } from 'vitest';
import { receivedEvent } from '../../support/job-builders.ts';
import { books, openBook } from './books.ts';

describe.each(books)('idempotency keys in %s', (_, open) => {
  const event = receivedEvent();
  const key = { key: 'a key', fingerprint: 'of the request' };

  it('make one job, however often it is begun', async () => {
    const { book } = await openBook(open);
    const record = book.begin({ id: 'jsample001', event, key });
    expect(book.begin({ id: 'jsample002', event, key })).toBe(record);
    expect(book.get('jsample002')).toBeNull();
    expect(book.findByKey('a key')).toEqual({ jobId: 'jsample001', fingerprint: 'of the request' });
  });

  it('are refused for another request', async () => {
    const { book } = await openBook(open);
    book.begin({ id: 'jsample001', event, key });
    const other = { id: 'jsample002', event, key: { ...key, fingerprint: 'of another' } };
    expect(() => book.begin(other)).toThrow(expect.objectContaining({ code: 'key-reused' }));
    expect(book.get('jsample002')).toBeNull();
  });

  it('that nobody used are unknown', async () => {
    const { book } = await openBook(open);
    expect(book.findByKey('a key')).toBeNull();
  });
});
