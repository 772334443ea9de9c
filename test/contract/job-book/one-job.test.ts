// One job in the book: it is what its events make of it, and always to be found.
import { describe, expect, it } from 'vitest';
import { endedEvent, openedEvent, sampleFailure } from '../../support/job-builders.ts';
import { storyUpTo, tell } from '../../support/job-story.ts';
import { begin, books, jobId, openBook, recordAll } from './books.ts';

describe.each(books)('one job of %s', (_, open) => {
  it('is what the state room makes of its events', async () => {
    const { book } = await openBook(open);
    begin(book, 'jsample001');
    recordAll(book, 'jsample001', storyUpTo('delivered'));
    expect(book.get('jsample001')).toEqual(tell(storyUpTo('delivered')));
  });

  it('stays as it is when an event does not fit', async () => {
    const { book } = await openBook(open);
    const before = begin(book, 'jsample001');
    const seq = book.lastSeq();
    expect(book.record('jsample001', openedEvent(7, 'inspect'))).toEqual({
      refused: 'attempt 7 is out of turn',
    });
    expect(book.get('jsample001')).toBe(before);
    expect(book.lastSeq()).toBe(seq);
  });

  it('that is not there is null to get and an error to record', async () => {
    const { book } = await openBook(open);
    expect(book.get('jmissing01')).toBeNull();
    expect(() => book.record('jmissing01', { type: 'cancelled' })).toThrow(
      expect.objectContaining({ code: 'not-found' }),
    );
  });

  it('takes no event that could not be read again', async () => {
    const { book } = await openBook(open);
    begin(book, 'jsample001');
    const spoilt = endedEvent(1, { kind: 'encode', frames: 1, seconds: Number.NaN, command: '' });
    expect(() => book.record('jsample001', spoilt)).toThrow(expect.objectContaining({ code: 'internal' }));
    expect(book.lastSeq()).toBe(1);
  });

  it('is working until it rests, and again when it is retried; by priority, then age', async () => {
    const { book } = await openBook(open);
    begin(book, 'jfirst0001');
    begin(book, 'jsecond001');
    begin(book, 'jurgent001', { priority: 5 });
    const ids = () => book.working().map((record) => record.id);
    expect(ids()).toEqual(['jurgent001', 'jfirst0001', 'jsecond001']);
    book.record('jfirst0001', { type: 'held', reason: sampleFailure() });
    expect(ids()).toEqual(['jurgent001', 'jsecond001']);
    book.record('jfirst0001', { type: 'retried' });
    expect(ids()).toEqual(['jurgent001', 'jfirst0001', 'jsecond001']);
  });

  it('that rests is still found when many others rested since', async () => {
    const { book } = await openBook(open);
    for (let i = 0; i < 120; i++) {
      begin(book, jobId(i));
      book.record(jobId(i), { type: 'cancelled' });
    }
    expect(book.get(jobId(0))).toMatchObject({ id: jobId(0), state: 'cancelled' });
  });
});
