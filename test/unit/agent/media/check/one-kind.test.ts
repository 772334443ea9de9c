// The check `one-kind` (N3): one sample description, parameter sets nowhere else, random access points as planned.
import { describe, expect, it } from 'vitest';
import { checkOneKind, type KindFacts } from '../../../../../agent/media/check/one-kind.ts';
import { watchParameterSets } from '../../../../../agent/media/check/parameter-sets.ts';

const fine: KindFacts = {
  codec: 'h265',
  wrapper: 'mp4',
  entries: { names: ['hvc1'], headerFirst: true },
  parameterSets: { packets: 0, kinds: 0 },
  accessPoints: { missing: [], extra: [], found: 4 },
};

const check = (change: Partial<KindFacts>) => checkOneKind({ ...fine, ...change });

describe('one kind', () => {
  it('passes', () => {
    expect(check({})).toMatchObject({ ok: true, frames: [] });
  });

  it.each<[string, Partial<KindFacts>]>([
    ['two sample descriptions', { entries: { names: ['hvc1', 'hvc1'], headerFirst: true } }],
    // ISO/IEC 14496-15: hev1 allows parameter sets inside the stream, hvc1 does not.
    ['a name that allows parameter sets in the stream', { entries: { names: ['hev1'], headerFirst: true } }],
    ['no readable header', { entries: null }],
    ['a header behind the media', { entries: { names: ['hvc1'], headerFirst: false } }],
    ['parameter sets in the stream', { parameterSets: { packets: 4, kinds: 1 } }],
    ['a missing random access point', { accessPoints: { missing: [50], extra: [], found: 3 } }],
    ['a random access point that nobody planned', { accessPoints: { missing: [], extra: [57], found: 5 } }],
    [
      'two sequence headers of AV1',
      {
        codec: 'av1',
        entries: { names: ['av01'], headerFirst: true },
        parameterSets: { packets: 4, kinds: 2 },
      },
    ],
  ])('fails for %s', (_, change) => {
    expect(check(change).ok).toBe(false);
  });

  it('names the frames of wrong random access points', () => {
    expect(check({ accessPoints: { missing: [50], extra: [57], found: 4 } }).frames).toEqual([50, 57]);
  });

  it('lets AV1 repeat its one sequence header, QuickTime end with its header, and Matroska have no such tables', () => {
    expect(
      check({
        codec: 'av1',
        entries: { names: ['av01'], headerFirst: true },
        parameterSets: { packets: 4, kinds: 1 },
      }).ok,
    ).toBe(true);
    expect(
      check({
        codec: 'vc3',
        wrapper: 'mov',
        entries: { names: ['AVdh'], headerFirst: false },
        parameterSets: null,
      }).ok,
    ).toBe(true);
    expect(check({ wrapper: 'mkv', entries: null }).ok).toBe(true);
  });
});

describe('parameter sets that are left of a stream', () => {
  it('are counted, and their kinds', () => {
    const sets = watchParameterSets();
    for (const line of [
      '#software: Lavf',
      '0, -1024, 0, 512, 86, 37e9',
      '0, 11776, 12800, 512, 86, 37e9',
      '0, 1, 2, 512, 86, 0000',
    ])
      sets.add(line);
    expect(sets.result()).toEqual({ packets: 3, kinds: 2 });
  });
});
