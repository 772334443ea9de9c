// Receives one file over the wire: under another name until it is complete, compared and flushed.
import { randomUUID } from 'node:crypto';
import { mkdir, open, rename, rm } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { createXXHash128 } from 'hash-wasm';
import { MillError } from '#shared/errors.ts';
import type { GranaryFile } from '#shared/task.ts';
import { type GranaryName, granaryFileName } from './granary-names.ts';
import { findStored, hashStored } from './granary-store.ts';

export type GranaryUpload = GranaryName & {
  readonly bytes: number;
  readonly xxh128: string;
  readonly body: ReadableStream<Uint8Array>;
};

/**
 * Throws MillError `bad-request` when length or hash differ from what was announced, `destination-exists` when the file
 * is there with other bytes, `no-space` on a full disk. The same file again is no error: an answer can get lost.
 */
export async function receiveUpload(root: string, upload: GranaryUpload): Promise<GranaryFile> {
  const file = granaryFileName(upload);
  const path = join(root, file);
  const draft = join(dirname(path), `.draft-${randomUUID()}`);
  await mkdir(dirname(path), { recursive: true });
  try {
    await writeDraft(draft, upload);
    // What is stored may be in the ledger already, with its hash: it is never replaced by something else (N7).
    if ((await findStored(root, file)) === null) await rename(draft, path);
    else if ((await hashStored(path)) !== upload.xxh128) throw otherBytes(file);
    await flushFolder(dirname(path));
    return { file, bytes: upload.bytes, hash: { algorithm: 'xxh128', hex: upload.xxh128 } };
  } catch (error) {
    throw explainFullDisk(error);
  } finally {
    await rm(draft, { force: true });
  }
}

async function writeDraft(draft: string, { body, bytes, xxh128, name }: GranaryUpload): Promise<void> {
  const hasher = await createXXHash128();
  let written = 0;
  await using handle = await open(draft, 'wx', 0o600);
  for await (const chunk of body) {
    written += chunk.length;
    if (written > bytes) break;
    hasher.update(chunk);
    await handle.writeFile(chunk);
  }
  await handle.sync();
  if (written !== bytes) {
    const got = written > bytes ? 'more bytes than' : `${written} of`;
    throw new MillError(
      'bad-request',
      `${name} arrived with ${got} the ${bytes} bytes announced; send it again`,
    );
  }
  if (hasher.digest('hex') !== xxh128) {
    throw new MillError(
      'bad-request',
      `${name} changed on the way: its hash is not the one announced; send it again`,
    );
  }
}

/** A rename is durable only when its folder is; Windows has no such call and needs none. */
async function flushFolder(folder: string): Promise<void> {
  if (process.platform === 'win32') return;
  await using handle = await open(folder, 'r');
  await handle.sync();
}

function otherBytes(file: string): MillError {
  return new MillError(
    'destination-exists',
    `${file} is in the granary with other bytes; retry with another attempt`,
  );
}

function explainFullDisk(error: unknown): unknown {
  if (!(error instanceof Error && 'code' in error && (error.code === 'ENOSPC' || error.code === 'EDQUOT')))
    return error;
  return new MillError('no-space', 'the disk of the coordinator’s data folder is full; make room there', {
    cause: error,
  });
}
