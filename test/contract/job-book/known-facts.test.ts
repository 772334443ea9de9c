// Facts of earlier inspections of the very same file.
import { describe, expect, it } from 'vitest';
import { endedEvent, openedEvent, receivedEvent, sampleFacts } from '../../support/job-builders.ts';
import { storyUpTo } from '../../support/job-story.ts';
import { begin, books, openBook, recordAll } from './books.ts';

describe.each(books)('known facts of %s', (_, open) => {
  const { bytes, modifiedMs } = sampleFacts();
  const source = receivedEvent().submission.source;

  it('are those of the same path, size and time', async () => {
    const { book } = await openBook(open);
    begin(book, 'jsample001');
    expect(book.knownFacts(source, bytes, modifiedMs)).toBeNull();
    recordAll(book, 'jsample001', storyUpTo('inspected'));
    expect(book.knownFacts(source, bytes, modifiedMs)).toEqual(sampleFacts());
    expect(book.knownFacts(source, bytes + 1, modifiedMs)).toBeNull();
    expect(book.knownFacts(source, bytes, modifiedMs + 0.5)).toBeNull();
    expect(book.knownFacts('rushes:day03/A002.mov', bytes, modifiedMs)).toBeNull();
  });

  it('are those of the newest inspection', async () => {
    const { book } = await openBook(open);
    begin(book, 'jsample001');
    const facts = sampleFacts({ bytes: bytes + 1 });
    recordAll(book, 'jsample001', [openedEvent(1, 'inspect'), endedEvent(1, { kind: 'inspect', facts })]);
    begin(book, 'jsample002');
    recordAll(book, 'jsample002', storyUpTo('inspected'));
    expect(book.knownFacts(source, bytes, modifiedMs)).toEqual(sampleFacts());
    expect(book.knownFacts(source, bytes + 1, modifiedMs)).toBeNull();
  });
});
