// How proof and rate are read off what ffmpeg says.
import { describe, expect, test } from 'vitest';
import { type Mark, rateOf } from '../../../../agent/lanes/measure-rate.ts';
import { judge, readLikenesses } from '../../../../agent/lanes/prove-lane.ts';
import { softwareLanes, stitchClassOf } from '../../../../agent/lanes/software-lanes.ts';

describe('a proof', () => {
  const line = (n: number, all: string) => `n:${n} Y:0.981 U:0.97 V:0.96 All:${all} (17.2)`;

  test('reads the likeness of every picture', () => {
    expect(readLikenesses(`${line(1, '0.975')}\n${line(2, '1.000000')}\nsomething else\n`)).toEqual([
      0.975, 1,
    ]);
  });

  test('holds for as many pictures as went in, all of them alike', () => {
    expect(judge(Array.from({ length: 12 }, () => 0.93))).toBeNull();
  });

  test.each([
    [11, 0.99, /12 pictures went in, 11 came out/],
    [13, 0.99, /12 pictures went in, 13 came out/],
    [0, 1, /0 came out/],
    [12, 0.4, /likeness 0\.40, required is 0\.8/],
  ])('fails for %i pictures of likeness %d', (count, likeness, reason) => {
    expect(judge(Array.from({ length: count }, () => likeness))).toMatch(reason);
  });
});

describe('a rate', () => {
  const marks = (...pairs: [frames: number, atMs: number][]): Mark[] =>
    pairs.map(([frames, atMs]) => ({ frames, atMs }));

  test('is taken over the stretch after the encoder has filled its look-ahead', () => {
    expect(rateOf(marks([1, 0], [40, 100], [48, 300], [73, 1300]), 48)).toBe(25);
  });

  test('of an encoder that never gets that far is taken over all', () => {
    expect(rateOf(marks([0, 0], [1, 1000], [4, 2000], [7, 4000]), 48)).toBe(2);
  });

  test.each([[marks()], [marks([0, 0], [0, 500])], [marks([1, 0])], [marks([1, 0], [1, 900])]])(
    'is unknown when nothing moved (%j)',
    (seen) => {
      expect(rateOf(seen, 2)).toBeNull();
    },
  );
});

describe('a stitch class', () => {
  test('differs by encoder, ffmpeg and library', () => {
    expect(stitchClassOf('ffv1', '5.1.9', null)).toBe('ffv1 ffmpeg 5.1.9');
    expect(stitchClassOf('libx265', '5.1.9', '3.5+1')).toBe('libx265 3.5+1 ffmpeg 5.1.9');
  });

  test.each([
    // Lines as the libraries printed them under ffmpeg 5.1.9.
    [
      'libx264',
      '[libx264 @ 0x55bc0ea21340] 264 - core 164 r3095 baee400 - H.264/MPEG-4 AVC codec',
      '164 r3095',
    ],
    ['libx265', 'x265 [info]: HEVC encoder version 3.5+1-f0c1022b6', '3.5+1-f0c1022b6'],
    ['libsvtav1', 'Svt[info]: SVT [version]:\tSVT-AV1 Encoder Lib v1.4.1', 'v1.4.1'],
  ])('knows the version of %s', (encoder, line, version) => {
    const lane = softwareLanes.find((candidate) => candidate.encoder === encoder);
    expect(lane?.versionPattern?.exec(line)?.[1]).toBe(version);
  });
});
