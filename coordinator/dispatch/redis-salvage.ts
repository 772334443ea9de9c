// Data files that Redis can't read any more, after a crash of the machine for example.
import { readdir, rename, rm } from 'node:fs/promises';
import { join } from 'node:path';

/** Did Redis refuse to start because of its append-only files? */
export function tellsOfDamage(error: unknown): boolean {
  return /append.?only|\bAOF\b/i.test(String(error));
}

/** Renames the data files, so that the next start is an empty one. Answers their new names; older such files go. */
export async function setDataAside(folder: string): Promise<string[]> {
  const names = (await readdir(folder)).filter(
    (name) => /^(appendonly.*|dump\.rdb)$/.test(name) && !name.endsWith('.damaged'),
  );
  for (const name of names) {
    await rm(join(folder, `${name}.damaged`), { recursive: true, force: true });
    await rename(join(folder, name), join(folder, `${name}.damaged`));
  }
  return names.map((name) => `${name}.damaged`);
}
