// Pixel formats for lossless copies: which format of the encoder holds a source's samples without changing one.
import { MillError } from '#shared/errors.ts';

/** FFV1's own formats, ffmpeg 5.1 (`ffmpeg -h encoder=ffv1`). */
const direct =
  /^(yuva?(420|422|444)p(9le|10le|12le|14le|16le)?|yuv(440|411|410)p(10le|12le)?|gray(9le|10le|12le|16le)?|gbra?p(9le|10le|12le|14le|16le)|bgr0|bgra|rgb48le|rgba64le|ya8)$/;

/** Same samples in another order or packing. */
const repacked: Readonly<Record<string, string>> = {
  yuvj420p: 'yuv420p',
  yuvj422p: 'yuv422p',
  yuvj444p: 'yuv444p',
  yuvj440p: 'yuv440p',
  nv12: 'yuv420p',
  nv16: 'yuv422p',
  uyvy422: 'yuv422p',
  yuyv422: 'yuv422p',
  p010le: 'yuv420p10le',
  p210le: 'yuv422p10le',
  rgb24: 'bgr0',
  bgr24: 'bgr0',
  gbrp: 'bgr0',
  rgba: 'bgra',
  argb: 'bgra',
  pal8: 'bgra',
};

/** Throws MillError `no-lane` for formats that FFV1 can't hold exactly. */
export function losslessPixelFormat(source: string): string {
  if (direct.test(source)) return source;
  const same = repacked[source];
  if (same !== undefined) return same;
  throw new MillError(
    'no-lane',
    `FFV1 cannot hold ${source} pictures bit for bit; choose another house format for this source`,
  );
}
