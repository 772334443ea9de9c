// N1: the pictures given to the encoders over all segments are the pictures of one pass over the whole file, same number,
// same order, bit for bit. Here the sources that are hardest to cut; test/long/pictures-of-segments.test.ts takes all, and
// test/e2e/matrix.test.ts sees it on the lossless deliverable of nearly all.
import { describe, it } from 'vitest';
import type { SourceName } from '../support/sources/make-source.ts';
import { expectPicturesOfOnePass } from '../support/whole-way/one-pass.ts';

const hardToCut: readonly SourceName[] = [
  'h264-mp4-1080',
  'h264-mp4-open-gop',
  'h264-mp4-recovery-points',
  'h264-ts-interlaced',
  'hevc-mp4-open-gop',
  'mpeg2-ts-wrap',
  'vfr-mkv',
  'sound-early-ts',
];

describe('the pictures of all segments together', () => {
  it.concurrent.each(hardToCut)('%s: are those of one pass', (name) => expectPicturesOfOnePass(name));

  it.concurrent.each([
    'vfr-mp4',
    'vfr-mkv',
    'rate-60000-1001',
    'h264-mp4-open-gop',
    'hevc-mp4-open-gop',
    'mpeg2-ts-wrap',
  ] as const)('%s: are those of one pass at another rate', (name) => expectPicturesOfOnePass(name, 'pal'));
});
