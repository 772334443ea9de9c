// The small files that ffmpeg reads at the join.
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { rational, scaleInteger } from '#shared/rational.ts';
import { concatScript, metadataFile } from '../../../../agent/media/join-list.ts';

describe('the list of grains', () => {
  it('tells each grain its length', () => {
    expect(
      concatScript(
        [
          { path: '/g/000000.mp4', frames: 24 },
          { path: "/it's/000001.mp4", frames: 12 },
        ],
        rational(24000, 1001),
      ),
    ).toBe(
      [
        'ffconcat version 1.0',
        "file 'file:/g/000000.mp4'",
        'duration 1.001000',
        String.raw`file 'file:/it'\''s/000001.mp4'`,
        'duration 0.500500',
        '',
      ].join('\n'),
    );
  });

  it('never lets the rounding of many grains add up', () => {
    const rates = [
      [24000, 1001],
      [60000, 1001],
      [1_000_000, 66_667],
      [7, 3],
    ] as const;
    fc.assert(
      fc.property(
        fc.constantFrom(...rates),
        fc.array(fc.integer({ min: 1, max: 600 }), { minLength: 1, maxLength: 300 }),
        (rate, lengths) => {
          const script = concatScript(
            lengths.map((frames) => ({ path: '/g', frames })),
            rational(rate[0], rate[1]),
          );
          const micros = [...script.matchAll(/^duration (\d+)\.(\d{6})$/gm)].reduce(
            (sum, match) => sum + Number(`${match[1]}${match[2]}`),
            0,
          );
          const frames = lengths.reduce((sum, length) => sum + length, 0);
          expect(micros).toBe(scaleInteger(frames, { num: rate[1] * 1_000_000, den: rate[0] }, 'nearest'));
        },
      ),
    );
  });
});

describe('the metadata file', () => {
  const film = {
    tags: { title: 'A=B; C#D\\E\nF', director: 'X' },
    chapters: [{ startSeconds: 2, endSeconds: 3.5, title: 'two' }],
    start: rational(0),
  };

  it('escapes what would be read as something else', () => {
    const lines = metadataFile({ ...film, wrapper: 'mkv' });
    expect(lines).toContain('title=A\\=B\\; C\\#D\\\\E\\\nF\n');
    expect(lines).toContain('director=X');
  });

  it('leaves out tags that the wrapper would lose', () => {
    expect(metadataFile({ ...film, wrapper: 'mov' })).not.toContain('director');
  });

  it('begins chapters at 0 where wrappers tell them by length', () => {
    expect(metadataFile({ ...film, wrapper: 'mp4' })).toContain(
      ['[CHAPTER]', 'TIMEBASE=1/1000000', 'START=0', 'END=2000000', '[CHAPTER]'].join('\n'),
    );
    expect(metadataFile({ ...film, wrapper: 'mkv' }).match(/\[CHAPTER\]/g)).toHaveLength(1);
  });

  it('moves chapters with the picture', () => {
    expect(metadataFile({ ...film, wrapper: 'mkv', start: rational(1, 2) })).toContain(
      'START=2500000\nEND=4000000',
    );
  });
});
