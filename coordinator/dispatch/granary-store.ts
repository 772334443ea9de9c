// Looking at stored files: only at regular files in the granary's own folders, links are never followed.
import { createReadStream } from 'node:fs';
import { lstat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { createXXHash128 } from 'hash-wasm';
import { parseGranaryName } from './granary-names.ts';

/** Null when there is no such file, or it is something else than a regular file in a job's own folder. */
export async function findStored(
  root: string,
  file: string,
): Promise<{ path: string; bytes: number } | null> {
  if (parseGranaryName(file) === null) return null;
  const path = join(root, file);
  const [folder, found] = await Promise.all([look(dirname(path)), look(path)]);
  return folder?.isDirectory() && found?.isFile() ? { path, bytes: found.size } : null;
}

/** xxh128, as hex. */
export async function hashStored(path: string): Promise<string> {
  const hasher = await createXXHash128();
  for await (const chunk of createReadStream(path)) hasher.update(chunk as Uint8Array);
  return hasher.digest('hex');
}

async function look(path: string) {
  return lstat(path).catch(() => null);
}
