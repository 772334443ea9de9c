// Content hash of a file, computed while it is read through, so that no file is too large.
import { open } from 'node:fs/promises';
import type { IHasher } from 'hash-wasm';
import type { ContentHash } from '#shared/schema-parts.ts';

export type HashedFile = { readonly bytes: number; readonly hash: ContentHash };

const chunkBytes = 1024 * 1024;

type Reader = { readonly hasher: IHasher; readonly buffer: Buffer };

/**
 * Readers that nobody uses now. Making one compiles a program and takes a megabyte, which is more work than hashing a
 * grain.
 */
const idleReaders: Reader[] = [];

/** Reads `path` once, to its end. Rejects with the file system's own error, or the signal's reason. */
export async function hashFile(path: string, signal?: AbortSignal): Promise<HashedFile> {
  await using file = await open(path, 'r');
  const reader = idleReaders.pop() ?? (await makeReader());
  const { hasher, buffer } = reader;
  try {
    hasher.init();
    let bytes = 0;
    for (;;) {
      signal?.throwIfAborted();
      const { bytesRead } = await file.read(buffer, 0, buffer.length, null);
      if (bytesRead === 0) return { bytes, hash: { algorithm: 'xxh128', hex: hasher.digest('hex') } };
      hasher.update(buffer.subarray(0, bytesRead));
      bytes += bytesRead;
    }
  } finally {
    idleReaders.push(reader);
  }
}

async function makeReader(): Promise<Reader> {
  const { createXXHash128 } = await import('hash-wasm');
  return { hasher: await createXXHash128(), buffer: Buffer.allocUnsafeSlow(chunkBytes) };
}
