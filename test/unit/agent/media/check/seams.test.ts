// The check `seams` (N1): the source picture after each grain is the next grain's first.
import { describe, expect, it } from 'vitest';
import { checkSeams, seamFrames } from '../../../../../agent/media/check/seams.ts';

const grains = [
  { first: 0, end: 10, attempt: 1, firstPicture: 'p0', nextPicture: 'p10' },
  { first: 10, end: 20, attempt: 1, firstPicture: 'p10', nextPicture: 'p20' },
  { first: 20, end: 25, attempt: 2, firstPicture: 'p20', nextPicture: null },
];

function check(change: (list: typeof grains) => unknown, missingPoints: readonly number[] = []) {
  const list = structuredClone(grains);
  change(list);
  return checkSeams({ frames: 25, grains: list, missingPoints: new Set(missingPoints) });
}

describe('the check of seams', () => {
  it('passes when all borders agree', () => {
    const result = check(() => undefined);
    expect(result).toMatchObject({ ok: true, frames: [] });
    expect(result.measured).toBe('2 grain borders with the same picture on both sides, 1 between attempts');
  });

  it.each([
    [
      'a picture was dropped, doubled or shifted at a seam',
      (list: typeof grains) => Object.assign(list[2] ?? {}, { firstPicture: 'p21' }),
      [20],
    ],
    [
      'the same inside one attempt',
      (list: typeof grains) => Object.assign(list[1] ?? {}, { firstPicture: 'p9' }),
      [10],
    ],
    ['a grain is missing', (list: typeof grains) => list.splice(1, 1), [20]],
    ['the film ends early', (list: typeof grains) => list.pop(), [19, 20]],
    [
      'the source goes on after the last grain',
      (list: typeof grains) => Object.assign(list[2] ?? {}, { nextPicture: 'p25' }),
      [24],
    ],
    [
      'nobody saw the picture after a grain',
      (list: typeof grains) => Object.assign(list[0] ?? {}, { nextPicture: null }),
      [10],
    ],
  ])('fails when %s', (_, change, frames) => {
    expect(check(change)).toMatchObject({ ok: false, frames });
  });

  it('fails when a grain does not begin with a random access point', () => {
    expect(check(() => undefined, [5, 10])).toMatchObject({ ok: false, frames: [10] });
  });

  it('tells the seams from the borders inside an attempt', () => {
    expect(seamFrames(grains)).toEqual([20]);
  });
});
