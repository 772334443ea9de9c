// How many bytes a job's picture may take: an upper estimate, so that a job is refused before it starts and not when
// the disk is full.
import { assertNever } from '#shared/errors.ts';
import type { PictureSpec } from '#shared/house-format.ts';

/** Bytes a sample place for VC-3 (SMPTE ST 2019-1 frame sizes at 1920×1080 divided by its samples, rounded up). */
const vc3BytesPerPixel: Readonly<Record<string, number>> = {
  dnxhr_lb: 0.095,
  dnxhr_sq: 0.3,
  dnxhr_hq: 0.46,
  dnxhr_hqx: 0.46,
  dnxhr_444: 0.92,
};

/** From Apple's published ProRes target rates at 1920×1080, 29.97 frames/s, rounded up; from memory. */
const proresBytesPerPixel: Readonly<Record<string, number>> = {
  proxy: 0.1,
  lt: 0.22,
  standard: 0.31,
  hq: 0.47,
};

/** `pixels`: output samples of one frame; `bitDepth`: bits a sample of the source. */
export type PictureAmount = { readonly pixels: number; readonly frames: number; readonly bitDepth: number };

export function estimateBytes(spec: PictureSpec, { pixels, frames, bitDepth }: PictureAmount): number {
  return Math.ceil(bytesPerPixel(spec, bitDepth) * pixels * frames);
}

function bytesPerPixel(spec: PictureSpec, bitDepth: number): number {
  switch (spec.codec) {
    case 'vc3':
      return vc3BytesPerPixel[spec.profile ?? 'dnxhr_lb'] ?? 0.92;
    case 'prores':
      return proresBytesPerPixel[spec.profile ?? 'standard'] ?? 0.95;
    case 'ffv1':
      // 4:2:2 of this depth, three quarters of it kept: noisy camera pictures shrink by little.
      return ((bitDepth * 2) / 8) * 0.75;
    case 'h264':
    case 'h265':
    case 'av1':
      // 0.05 bytes a sample at quality 20, halved every six steps: far above common material (common practice, no source).
      return 0.05 * 2 ** ((20 - (spec.quality ?? 23)) / 6);
    default:
      return assertNever(spec.codec);
  }
}
