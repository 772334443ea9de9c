// Writes a temporary file and proves it: hashed while copied, flushed, closed, opened again, read back and compared.
import { type FileHandle, open } from 'node:fs/promises';
import { createXXHash128 } from 'hash-wasm';
import { MillError } from '#shared/errors.ts';
import type { GranaryFile } from '#shared/task.ts';
import { hashFile } from '../../tools/hash-file.ts';

const chunkBytes = 4 * 1024 * 1024;

export type Copy = {
  readonly from: string;
  /** Must not exist. */
  readonly to: string;
  readonly due: Pick<GranaryFile, 'bytes' | 'hash'>;
  readonly signal: AbortSignal;
};

/** Throws MillError `delivery-failed` when the bytes read or read back are not the due ones, and file system errors. */
export async function writeCopy({ from, to, due, signal }: Copy): Promise<void> {
  const read = await copyHashed({ from, to, signal });
  if (read.bytes !== due.bytes || read.hex !== due.hash.hex) {
    throw new MillError(
      'delivery-failed',
      `the joined file ${from} is not the one that was checked; check the granary's disk`,
      {
        details: {
          path: from,
          bytes: read.bytes,
          hash: read.hex,
          dueBytes: due.bytes,
          dueHash: due.hash.hex,
        },
      },
    );
  }
  await requireSame(to, due.hash.hex, signal);
}

/** The same care for a small text. */
export async function writeText({ text, to }: { text: string; to: string }): Promise<void> {
  const bytes = Buffer.from(text);
  {
    await using file = await open(to, 'wx');
    await writeAll(file, bytes);
    await file.sync();
  }
  const hasher = await createXXHash128();
  hasher.init();
  hasher.update(bytes);
  await requireSame(to, hasher.digest('hex'));
}

async function copyHashed({ from, to, signal }: Omit<Copy, 'due'>): Promise<{ bytes: number; hex: string }> {
  const hasher = await createXXHash128();
  hasher.init();
  const buffer = Buffer.allocUnsafe(chunkBytes);
  let bytes = 0;
  await using input = await open(from, 'r');
  await using output = await open(to, 'wx');
  for (;;) {
    signal.throwIfAborted();
    const { bytesRead } = await input.read(buffer, 0, chunkBytes, bytes);
    if (bytesRead === 0) break;
    const chunk = buffer.subarray(0, bytesRead);
    hasher.update(chunk);
    await writeAll(output, chunk);
    bytes += bytesRead;
  }
  await output.sync();
  return { bytes, hex: hasher.digest('hex') };
}

/** A write may take less than it is given. */
async function writeAll(file: FileHandle, bytes: Buffer): Promise<void> {
  for (let done = 0; done < bytes.length; ) {
    done += (await file.write(bytes, done, bytes.length - done)).bytesWritten;
  }
}

/** What the operating system reads back may come from its memory; after the flush that is what the disk was given. */
export async function requireSame(file: string, hex: string, signal?: AbortSignal): Promise<void> {
  const readBack = await hashFile(file, signal);
  if (readBack.hash.hex === hex) return;
  throw new MillError(
    'delivery-failed',
    `${file} reads back other bytes than were written; check the destination's disk`,
    {
      details: { path: file, hash: readBack.hash.hex, dueHash: hex },
    },
  );
}
