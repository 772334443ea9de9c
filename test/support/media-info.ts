// A second opinion on media files from MediaInfo, which shares no code with FFmpeg.
import { open } from 'node:fs/promises';
import { mediaInfoFactory } from 'mediainfo.js';

export type MediaInfoTrack = { readonly '@type': string; readonly [field: string]: unknown };

/** MediaInfo's tracks as it names them: one `General`, then `Video`, `Audio`, `Other`. */
export async function mediaInfoTracks(path: string): Promise<readonly MediaInfoTrack[]> {
  const info = await mediaInfoFactory({ format: 'object' });
  const file = await open(path);
  try {
    const { size } = await file.stat();
    const read = async (length: number, position: number) => {
      const { buffer, bytesRead } = await file.read(Buffer.alloc(length), 0, length, position);
      return buffer.subarray(0, bytesRead);
    };
    const result = await info.analyzeData(() => size, read);
    return (result.media?.track ?? []) as unknown as readonly MediaInfoTrack[];
  } finally {
    await file.close();
    info.close();
  }
}
