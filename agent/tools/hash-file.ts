// Content hash of a file, computed while it streams by, so that no file is too large.
import { createReadStream } from 'node:fs';
import type { IHasher } from 'hash-wasm';
import type { ContentHash } from '#shared/schema-parts.ts';

export type HashedFile = { readonly bytes: number; readonly hash: ContentHash };

const chunkBytes = 1024 * 1024;

/** Hashers that nobody uses now: making one compiles a program, which takes longer than a small file's bytes. */
const idleHashers: IHasher[] = [];

/** Reads `path` once, to its end. Rejects with the file system's own error, or the signal's reason. */
export async function hashFile(path: string, signal?: AbortSignal): Promise<HashedFile> {
  const hasher = idleHashers.pop() ?? (await makeHasher());
  try {
    hasher.init();
    let bytes = 0;
    for await (const chunk of createReadStream(path, {
      highWaterMark: chunkBytes,
      ...(signal && { signal }),
    })) {
      hasher.update(chunk as Buffer);
      bytes += (chunk as Buffer).length;
    }
    return { bytes, hash: { algorithm: 'xxh128', hex: hasher.digest('hex') } };
  } finally {
    idleHashers.push(hasher);
  }
}

async function makeHasher(): Promise<IHasher> {
  const { createXXHash128 } = await import('hash-wasm');
  return createXXHash128();
}
