// Which source meets which house format on the way through the farm. Every source meets the lossless format, where every
// bit can be compared; the other formats meet the kinds of sources that they treat in a way of their own.
import { type SourceName, sourceNames } from '../sources/make-source.ts';

export type MatrixCase = { readonly source: SourceName; readonly format: string };

/** 200 pictures of 1080 lines would take a tenth of the whole time; its twin in ProRes is here (in the long run), itself is a proxy below. */
const tooCostly: SourceName = 'h264-mp4-1080';

const others: Readonly<Record<'edit-proxy' | 'review-copy' | 'storage-copy', readonly SourceName[]>> = {
  'edit-proxy': [
    'prores-mov-tc-two-mono',
    'h264-mp4-1080',
    'drop-frame-mov',
    'h264-ts-interlaced',
    'anamorphic-mp4',
    'rotated-mp4',
    'vfr-mp4',
    'sound-early-mov',
    'eight-mono-mov',
    'hevc-mp4-hdr10',
    'rate-1000000-66667',
    'mjpeg-avi',
  ],
  'review-copy': [
    'hevc-mp4-hdr10',
    'mpeg2-ps-interlaced',
    'drop-frame-mov',
    'rotated-mp4',
    'vfr-mkv',
    'sound-early-ts',
    'surround-mp4',
    'h264-mp4-odd-size',
    'hevc-mp4-open-gop',
  ],
  'storage-copy': [
    'prores-mov-tc-two-mono',
    'hevc-mp4-hdr10',
    'mpeg2-ts-wrap',
    'sound-late-mov',
    'vfr-mp4',
    'ffv1-mkv-odd-size',
    'anamorphic-mp4',
    'h264-mp4-open-gop',
  ],
};

const lossless: readonly MatrixCase[] = sourceNames
  .filter((source) => source !== tooCostly)
  .map((source) => ({ source, format: 'lossless-master' }));

const lossy: readonly MatrixCase[] = Object.entries(others).flatMap(([format, sources]) =>
  sources.map((source) => ({ source, format })),
);

/** Beside every source in lossless: what the other formats do most differently. The rest is for the long run. */
const key: Readonly<Record<string, readonly SourceName[]>> = {
  'edit-proxy': ['drop-frame-mov', 'vfr-mp4'],
  'review-copy': ['hevc-mp4-hdr10', 'mpeg2-ps-interlaced', 'rotated-mp4'],
  'storage-copy': ['hevc-mp4-hdr10', 'sound-late-mov'],
};

const isKey = ({ source, format }: MatrixCase) => key[format]?.includes(source) ?? false;

/** Large, or of a kind that another source stands for. */
const forLongRun: readonly SourceName[] = [
  'prores-mov-1080',
  'hevc-mkv-closed-gop',
  'av1-mkv-10-bit',
  'sound-late-mkv',
  'rate-25',
];
const isForLongRun = ({ source }: MatrixCase) => forLongRun.includes(source);

export const keyCases: readonly MatrixCase[] = [
  ...lossless.filter((one) => !isForLongRun(one)),
  ...lossy.filter(isKey),
];
export const otherCases: readonly MatrixCase[] = [
  ...lossless.filter(isForLongRun),
  ...lossy.filter((one) => !isKey(one)),
];
