// The granary: the coordinator's folder of finished pieces. Agents that prove that they see it move files into it; the
// others send theirs over HTTP. Nothing outside of it is ever touched, and in it only job folders are deleted.
import { randomBytes } from 'node:crypto';
import { lstat, mkdir, rm, statfs, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { MillError } from '#shared/errors.ts';
import { jobIdSchema } from '#shared/schema-parts.ts';
import { type GranaryFile, granaryFileSchema } from '#shared/task.ts';
import type { Upload } from '../api/api-ports.ts';
import { receiveUpload } from './granary-upload.ts';

export type Granary = {
  /** Absolute. */
  readonly path: string;
  /** A file in it and its text: whoever reads that text at that path sees this folder. */
  readonly markFile: string;
  readonly markText: string;
  /** Takes a file over the wire; complete and flushed when it returns. Throws MillError `bad-request` or `no-space`. */
  receive(upload: Upload): Promise<GranaryFile>;
  /** Throws MillError `bad-request` when the file isn't there in its full length. */
  verify(file: GranaryFile): Promise<void>;
  /** Absolute path of a stored file. Throws MillError `not-found`. */
  pathOf(file: string): Promise<string>;
  /** Deletes everything that a job keeps here. */
  sweepJob(jobId: string): Promise<void>;
  freeBytes(): Promise<number>;
};

const markFile = 'mark.txt';

export async function openGranary(path: string): Promise<Granary> {
  await mkdir(path, { recursive: true, mode: 0o700 });
  const markText = randomBytes(24).toString('hex');
  await writeFile(join(path, markFile), markText, { mode: 0o600 });
  return {
    ...{ path, markFile, markText },
    receive: (upload) => receiveUpload(path, upload),
    async verify(file) {
      const found = await lookAt(path, file.file);
      if (found?.size === file.bytes) return;
      throw new MillError('bad-request', `${file.file} has ${found?.size ?? 'no'} bytes in the granary and ${file.bytes} were reported; it is not taken`);
    },
    async pathOf(file) {
      if ((await lookAt(path, file)) === null) throw new MillError('not-found', `there is no ${JSON.stringify(file)} in the granary`);
      return join(path, file);
    },
    async sweepJob(jobId) {
      await rm(join(path, jobIdSchema.parse(jobId)), { recursive: true, force: true });
    },
    async freeBytes() {
      const system = await statfs(path);
      return system.bavail * system.bsize;
    },
  };
}

/** A regular file inside a job's folder, links not followed; null for everything else. */
async function lookAt(root: string, file: string): Promise<{ size: number } | null> {
  const parts = file.split('/');
  if (!granaryFileSchema.shape.file.safeParse(file).success || parts.length !== 2 || parts.includes('..')) return null;
  if (!jobIdSchema.safeParse(parts[0]).success) return null;
  const found = await lstat(join(root, ...parts)).catch(() => null);
  return found?.isFile() ? found : null;
}
