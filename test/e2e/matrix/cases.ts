// Which source meets which house format on the way through the farm. Every source meets the lossless format, where every
// bit can be compared; the other formats meet the kinds of sources that they treat in a way of their own.
import { type SourceName, sourceNames } from '../../support/sources/make-source.ts';

export type MatrixCase = { readonly source: SourceName; readonly format: string };

const others: Readonly<Record<'edit-proxy' | 'review-copy' | 'storage-copy', readonly SourceName[]>> = {
  'edit-proxy': [
    'prores-mov-tc-two-mono',
    'drop-frame-mov',
    'dnxhr-mxf',
    'h264-ts-interlaced',
    'anamorphic-mp4',
    'rotated-mp4',
    'vfr-mp4',
    'sound-early-mov',
    'eight-mono-mov',
    'hevc-mp4-open-gop',
    'rate-1000000-66667',
    'mjpeg-avi',
  ],
  'review-copy': [
    'hevc-mp4-hdr10',
    'mpeg2-ps-interlaced',
    'drop-frame-mov',
    'prores-mov-1080',
    'rotated-mp4',
    'anamorphic-mp4',
    'vfr-mkv',
    'sound-late-mkv',
    'sound-early-ts',
    'surround-mp4',
    'h264-mp4-odd-size',
    'rate-60000-1001',
    'h264-mp4-recovery-points',
  ],
  'storage-copy': [
    'prores-mov-tc-two-mono',
    'drop-frame-mov',
    'hevc-mp4-hdr10',
    'mpeg2-ts-wrap',
    'sound-early-mov',
    'sound-late-mov',
    'surround-mp4',
    'eight-mono-mov',
    'vfr-mp4',
    'ffv1-mkv-odd-size',
    'anamorphic-mp4',
    'h264-mp4-open-gop',
  ],
};

export const losslessCases: readonly MatrixCase[] = sourceNames.map((source) => ({
  source,
  format: 'lossless-master',
}));

export const lossyCases: readonly MatrixCase[] = Object.entries(others).flatMap(([format, sources]) =>
  sources.map((source) => ({ source, format })),
);
