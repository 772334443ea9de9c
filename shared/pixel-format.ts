// What ffmpeg's pixel format names say.

/** Red, green and blue instead of luma and chroma. */
export function isRgb(pixelFormat: string): boolean {
  return /^(gbr|rgb|bgr|argb|abgr|0rgb|0bgr|pal8)/.test(pixelFormat);
}

/** Full range told by the name itself, an old convention of ffmpeg's. */
export function isFullRangeName(pixelFormat: string): boolean {
  return pixelFormat.startsWith('yuvj');
}
