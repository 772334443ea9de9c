// The two volumes of a test farm: `rushes` with the sources, `share` for the deliverables.
import { copyFile, link, mkdir, readdir } from 'node:fs/promises';
import { dirname, extname, join, relative, sep } from 'node:path';

/**
 * Puts a source under a name on the volume and answers its path. A hard link where that can be: what happens to it
 * happens to the file that all tests share, so nobody could overlook it.
 */
export async function placeSource(file: string, root: string, name: string): Promise<string> {
  const target = join(root, name);
  await mkdir(dirname(target), { recursive: true });
  try {
    await link(file, target);
  } catch (error) {
    if (!['EXDEV', 'EPERM', 'ENOTSUP', 'EMLINK'].includes((error as NodeJS.ErrnoException).code ?? ''))
      throw error;
    await copyFile(file, target);
  }
  return target;
}

/** Names of all files below a folder, `/` between folders; none when it isn't there. */
export async function listFiles(root: string): Promise<string[]> {
  const entries = await readdir(root, { recursive: true, withFileTypes: true }).catch(() => []);
  return entries
    .filter((entry) => !entry.isDirectory())
    .map((entry) => relative(root, join(entry.parentPath, entry.name)).split(sep).join('/'))
    .toSorted();
}

/** The name that a source has on the volume: as the file is called, the case's name as its stem. */
export function nameOnVolume(stem: string, file: string): string {
  return `${stem}${extname(file)}`;
}
