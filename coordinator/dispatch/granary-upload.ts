// Receives one file over the wire: under another name until it is complete, compared and flushed.
import { randomUUID } from 'node:crypto';
import { mkdir, open, rename, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { createXXHash128 } from 'hash-wasm';
import { MillError } from '#shared/errors.ts';
import { jobIdSchema } from '#shared/schema-parts.ts';
import type { GranaryFile } from '#shared/task.ts';
import type { Upload } from '../api/api-ports.ts';

/** Throws MillError `bad-request` when length or hash differ from what was announced, `no-space` on a full disk. */
export async function receiveUpload(root: string, upload: Upload): Promise<GranaryFile> {
  const { name, attempt } = upload;
  if (!/^[a-zA-Z0-9][a-zA-Z0-9._-]{0,127}$/.test(name)) throw new MillError('bad-request', `${JSON.stringify(name)} is no name for a granary file`);
  const folder = join(root, jobIdSchema.parse(upload.jobId));
  await mkdir(folder, { recursive: true });
  const draft = join(folder, `draft-${randomUUID()}`);
  try {
    const hex = await writeDraft(draft, upload);
    await rename(draft, join(folder, `a${attempt}-${name}`));
    return { file: `${upload.jobId}/a${attempt}-${name}`, bytes: upload.bytes, hash: { algorithm: 'xxh128', hex } };
  } catch (error) {
    await rm(draft, { force: true });
    if ((error as NodeJS.ErrnoException).code !== 'ENOSPC') throw error;
    throw new MillError('no-space', 'the disk of the coordinator’s data folder is full; make room there', { cause: error });
  }
}

async function writeDraft(draft: string, { body, bytes, xxh128, name }: Upload): Promise<string> {
  const hasher = await createXXHash128();
  hasher.init();
  let written = 0;
  const file = await open(draft, 'wx', 0o600);
  try {
    for await (const chunk of body) {
      written += chunk.length;
      if (written > bytes) break;
      hasher.update(chunk);
      await file.writeFile(chunk);
    }
    await file.sync();
  } finally {
    await file.close();
  }
  const hex = hasher.digest('hex');
  if (written === bytes && hex === xxh128) return hex;
  throw new MillError('bad-request', `${name} arrived with ${written} bytes of ${bytes} announced, or changed on the way; send it again`);
}
