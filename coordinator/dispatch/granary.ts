// The granary: the coordinator's folder of finished pieces. Agents that prove that they see it move files into it; the
// others send theirs over HTTP. Nothing outside of it is ever touched.
import { randomBytes } from 'node:crypto';
import { mkdir, readdir, readFile, realpath, rm, statfs, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { MillError } from '#shared/errors.ts';
import { jobIdSchema } from '#shared/schema-parts.ts';
import type { GranaryFile } from '#shared/task.ts';
import type { KeptFiles } from './granary-kept.ts';
import { findStored } from './granary-store.ts';
import { sweepJob, sweepOrphans } from './granary-sweep.ts';
import { type GranaryUpload, receiveUpload } from './granary-upload.ts';

export type Granary = {
  /** Absolute, without links. */
  readonly path: string;
  /** A file in it and its text: whoever reads that text at that path sees this folder. */
  readonly markFile: string;
  readonly markText: string;
  /**
   * Takes a file over the wire; complete and flushed when it returns. Throws MillError `bad-request` for a file other than
   * announced, `destination-exists` when it is stored with other bytes, `no-space`.
   */
  receive(upload: GranaryUpload): Promise<GranaryFile>;
  /** Throws MillError `bad-request` when the file isn't there in its full length. */
  verify(file: GranaryFile): Promise<void>;
  /** Absolute path of a stored file. Throws MillError `not-found`. */
  pathOf(file: string): Promise<string>;
  removeFiles(files: readonly Pick<GranaryFile, 'file'>[]): Promise<void>;
  /** Deletes everything that a job keeps here. */
  sweepJob(jobId: string): Promise<void>;
  /** Deletes every file that no job needs. */
  sweepOrphans(known: (jobId: string) => KeptFiles): Promise<void>;
  /** Jobs that have a folder here, in no order. */
  jobs(): Promise<readonly string[]>;
  freeBytes(): Promise<number>;
};

const markFile = 'mark.txt';

/** Throws MillError `bad-config` when the folder can't be made or written. */
export async function openGranary(folder: string): Promise<Granary> {
  const { path, markText } = await prepare(folder);
  return {
    path,
    markFile,
    markText,
    receive: (upload) => receiveUpload(path, upload),
    async verify({ file, bytes }) {
      const found = await findStored(path, file);
      if (found?.bytes === bytes) return;
      const has = found === null ? 'is not in the granary' : `has ${found.bytes} bytes in the granary`;
      throw new MillError('bad-request', `${file} ${has}, ${bytes} bytes were reported; store it again`);
    },
    async pathOf(file) {
      const found = await findStored(path, file);
      if (found !== null) return found.path;
      throw new MillError('not-found', `there is no ${JSON.stringify(file)} in the granary`);
    },
    async removeFiles(files) {
      const stored = await Promise.all(files.map(({ file }) => findStored(path, file)));
      for (const found of stored) if (found !== null) await rm(found.path, { force: true });
    },
    sweepJob: (jobId) => sweepJob(path, jobId),
    sweepOrphans: (known) => sweepOrphans(path, known),
    async jobs() {
      const names = await readdir(path);
      return names.filter((name) => jobIdSchema.safeParse(name).success);
    },
    async freeBytes() {
      const system = await statfs(path);
      return system.bavail * system.bsize;
    },
  };
}

async function prepare(folder: string): Promise<{ path: string; markText: string }> {
  try {
    await mkdir(folder, { recursive: true, mode: 0o700 });
    const path = await realpath(folder);
    return { path, markText: await readOrMakeMark(join(path, markFile)) };
  } catch (cause) {
    throw new MillError(
      'bad-config',
      `the folder ${folder} can't be made or written; see to its permissions`,
      { cause },
    );
  }
}

/** The same text after a restart, so that agents needn't prove again what they proved. */
async function readOrMakeMark(file: string): Promise<string> {
  const before = await readFile(file, 'utf8').catch(() => '');
  if (/^[0-9a-f]{48}$/.test(before)) return before;
  const text = randomBytes(24).toString('hex');
  await writeFile(file, text, { mode: 0o600, flush: true });
  return text;
}
