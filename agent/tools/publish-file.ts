// Makes a file appear under its final name complete, flushed and at once, or not at all.
import { copyFile, mkdir, open, rename, rm, writeFile } from 'node:fs/promises';
import path from 'node:path';

/** Moves `from` to `to`, replacing what is there; across file systems by a copy beside `to` that is then renamed. */
export async function moveFile(from: string, to: string): Promise<void> {
  await mkdir(path.dirname(to), { recursive: true });
  await flush(from);
  try {
    await rename(from, to);
  } catch (error) {
    if (!isErrno(error, 'EXDEV')) throw error;
    await copyAcross(from, to);
  }
  await flushFolder(path.dirname(to));
}

/** Writes a small file so that readers see the old text or the new one, never half of it. */
export async function writeWhole(file: string, text: string): Promise<void> {
  await mkdir(path.dirname(file), { recursive: true });
  const part = `${file}.${process.pid}.part`;
  await writeFile(part, text);
  await rename(part, file);
}

export function isErrno(error: unknown, ...codes: readonly string[]): boolean {
  return error instanceof Error && 'code' in error && codes.includes(String(error.code));
}

async function copyAcross(from: string, to: string): Promise<void> {
  const part = `${to}.${process.pid}.part`;
  try {
    await copyFile(from, part);
    await flush(part);
    await rename(part, to);
  } catch (error) {
    await rm(part, { force: true });
    throw error;
  }
  await rm(from);
}

/** Resolves when the disk has the file. */
export async function flush(file: string): Promise<void> {
  await using handle = await open(file, 'r+');
  await handle.sync();
}

/** A rename is durable only when its folder is; Windows has no such call and needs none. */
async function flushFolder(folder: string): Promise<void> {
  if (process.platform === 'win32') return;
  await using handle = await open(folder, 'r');
  await handle.sync();
}
