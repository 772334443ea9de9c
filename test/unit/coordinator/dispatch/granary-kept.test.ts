import { expect, it } from 'vitest';
import { keptFiles } from '../../../../coordinator/dispatch/granary-kept.ts';
import { sampleFailure } from '../../../support/job-builders.ts';
import { storyUpTo, tell } from '../../../support/job-story.ts';

const nothing = { files: new Set(), attempts: new Set() };

it('keeps what is stored, and whatever open attempts may have stored without having said so yet', () => {
  const twoGrains = storyUpTo('joining').slice(0, 7);
  expect(keptFiles(tell(twoGrains))).toEqual({
    files: new Set(['jsample001/a1-grain-0.mov', 'jsample001/a1-grain-1.mov']),
    attempts: new Set([2, 3]),
  });
});

it('keeps sound and joined file', () => {
  const { files } = keptFiles(tell(storyUpTo('checking')));
  expect(files).toEqual(
    new Set([
      ...[0, 1, 2, 3, 4].map((index) => `jsample001/a1-grain-${index}.mov`),
      'jsample001/a1-sound.mov',
      'jsample001/a1-joined.mov',
    ]),
  );
});

it('keeps all that a held job has, for it may be retried', () => {
  const held = tell([...storyUpTo('checking'), { type: 'held', reason: sampleFailure() }]);
  expect(keptFiles(held).files.size).toBe(7);
});

it('keeps nothing of unknown jobs and of those that are over', () => {
  expect(keptFiles(null)).toEqual(nothing);
  expect(keptFiles(tell(storyUpTo('delivered')))).toEqual(nothing);
  expect(keptFiles(tell([...storyUpTo('encoding'), { type: 'cancelled' }]))).toEqual(nothing);
  // A failed job starts over when it is retried.
  expect(keptFiles(tell([...storyUpTo('encoding'), { type: 'failed', reason: sampleFailure() }]))).toEqual(
    nothing,
  );
});
