// The source as a file: opened for reading only, recognised by its first bytes, measured against what its wrapper
// promises, and fingerprinted.
import { type FileHandle, open, stat } from 'node:fs/promises';
import { createXXHash128 } from 'hash-wasm';
import { MillError } from '#shared/errors.ts';
import type { Rational } from '#shared/rational.ts';
import type { ContentHash } from '#shared/schema-parts.ts';
import type { ByteSource } from '../../media/facts/byte-source.ts';
import { checkLength } from '../../media/facts/container-length.ts';
import { hasEncryptedPicture } from '../../media/facts/iso-boxes.ts';
import { sniffBytes, sniffFile } from '../../media/facts/sniff-file.ts';
import { timecodeStarts } from '../../media/facts/timecode-edits.ts';

export type SourceFile = {
  /** Volume path, as people know the file. */
  readonly name: string;
  /** Absolute path on this machine. */
  readonly local: string;
  readonly bytes: number;
  readonly modifiedMs: number;
  readonly demuxer: string;
  /** When the labels of a QuickTime file's timecode tracks begin, seconds, track by track. */
  readonly timecodeStarts: readonly Rational[];
};

const pieceBytes = 1024 * 1024;

/** Throws MillError `not-media`, `no-picture` or `source-truncated`. */
export async function recogniseSource(name: string, local: string): Promise<SourceFile> {
  await using handle = await open(local, 'r');
  const { size, mtimeMs } = await handle.stat();
  const file = byteSource(handle, size);
  const sniffed = sniffFile(await file.read(0, sniffBytes));
  if (sniffed.kind !== 'media') {
    const code = sniffed.kind === 'other' ? 'not-media' : 'no-picture';
    throw new MillError(code, `${name} is no film: ${sniffed.looks}; ${sniffed.advice}`);
  }
  const length = await checkLength(file, sniffed.wrapper);
  if (length.kind === 'broken') {
    throw new MillError(
      'source-truncated',
      `${name} is not complete: ${length.what}; copy or record it again`,
    );
  }
  if (sniffed.wrapper === 'iso' && (await hasEncryptedPicture(file))) {
    throw new MillError(
      'not-media',
      `${name} is encrypted, so that nobody without its key sees a picture; hand in a film without encryption`,
    );
  }
  const starts = sniffed.wrapper === 'iso' ? await timecodeStarts(file) : [];
  return { name, local, bytes: size, modifiedMs: mtimeMs, demuxer: sniffed.demuxer, timecodeStarts: starts };
}

/** Hash over the size and a mebibyte at the head, in the middle and at the tail: cheap even on a slow share. */
export async function fingerprint({ local, bytes }: SourceFile): Promise<ContentHash> {
  await using handle = await open(local, 'r');
  const file = byteSource(handle, bytes);
  const hasher = await createXXHash128();
  hasher.init().update(`${bytes}\n`);
  const places = [0, Math.floor((bytes - pieceBytes) / 2), bytes - pieceBytes];
  for (const place of places) hasher.update(await file.read(Math.max(0, place), pieceBytes));
  return { algorithm: 'xxh128', hex: hasher.digest('hex') };
}

/** Throws MillError `source-changed` when the file is another than at the start. */
export async function requireUnchanged(source: SourceFile): Promise<void> {
  const now = await stat(source.local).catch(() => null);
  if (now && now.size === source.bytes && now.mtimeMs === source.modifiedMs) return;
  const how = now ? `from ${source.bytes} to ${now.size} bytes, or in its time` : 'and is gone';
  throw new MillError(
    'source-changed',
    `${source.name} changed while it was inspected, ${how}; submit it when it is complete`,
  );
}

function byteSource(handle: FileHandle, bytes: number): ByteSource {
  return {
    bytes,
    async read(offset, length) {
      const { buffer, bytesRead } = await handle.read(
        Buffer.alloc(Math.min(length, bytes)),
        0,
        Math.min(length, bytes),
        offset,
      );
      return buffer.subarray(0, bytesRead);
    },
  };
}
