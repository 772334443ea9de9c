// Finds the movie header of an ISO base media file without reading the media.
import { type FileHandle, open } from 'node:fs/promises';

export type MovieHeader = {
  /** The whole `moov` box. */
  readonly moov: Uint8Array;
  /** It stands before the media, so that playing can start before the file is there whole. */
  readonly first: boolean;
};

/** A feature film's header has a few dozen bytes a frame; more than this is no header of ours. */
const largestHeader = 512 * 1024 * 1024;

/** Null when the file has no whole movie header. */
export async function readMovieHeader(local: string): Promise<MovieHeader | null> {
  await using file = await open(local, 'r');
  const { size: fileBytes } = await file.stat();
  let seenMedia = false;
  for (let start = 0; start < fileBytes; ) {
    const box = await topBox(file, start, fileBytes);
    if (box === null) return null;
    if (box.type === 'moov') {
      return box.bytes > largestHeader
        ? null
        : { moov: await readPart(file, start, box.bytes), first: !seenMedia };
    }
    if (box.type === 'mdat') seenMedia = true;
    start += box.bytes;
  }
  return null;
}

type TopBox = { readonly type: string; readonly bytes: number };

async function topBox(file: FileHandle, start: number, fileBytes: number): Promise<TopBox | null> {
  const head = await readPart(file, start, Math.min(16, fileBytes - start));
  if (head.byteLength < 8) return null;
  const short = head.readUInt32BE(0);
  const long = short === 1 && head.byteLength === 16;
  // A size of 0 reaches to the end of the file (ISO/IEC 14496-12, 4.2).
  const bytes = long ? Number(head.readBigUInt64BE(8)) : short === 0 ? fileBytes - start : short;
  return bytes < 8 || start + bytes > fileBytes ? null : { type: head.toString('latin1', 4, 8), bytes };
}

async function readPart(file: FileHandle, start: number, bytes: number): Promise<Buffer> {
  const buffer = Buffer.alloc(bytes);
  const { bytesRead } = await file.read(buffer, 0, bytes, start);
  return buffer.subarray(0, bytesRead);
}
