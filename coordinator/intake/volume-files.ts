// The coordinator's look at volumes that are mounted on its machine. Links are followed and must end inside the volume.
import { constants } from 'node:fs';
import { access, lstat, realpath, stat, statfs } from 'node:fs/promises';
import { dirname, isAbsolute, join, relative, sep } from 'node:path';
import { MillError } from '#shared/errors.ts';
import { formatVolumePath, type PathFlavour, toLocalPath, type VolumePath } from '#shared/volume-path.ts';

/** Volume name → absolute folder. */
export type VolumeRoots = Readonly<Record<string, string>>;

const flavour: PathFlavour = process.platform === 'win32' ? 'windows' : 'posix';

/** Throws MillError when the source isn't a file with something in it, inside its volume. */
export async function findSource(
  roots: VolumeRoots,
  path: VolumePath,
): Promise<{ bytes: number; modifiedMs: number }> {
  const local = localPath(roots, path);
  const shown = JSON.stringify(formatVolumePath(path));
  await requireInside(rootOf(roots, path.volume), local, shown);
  const found = await stat(local).catch(() => {
    throw new MillError(
      'source-missing',
      `${shown} is not there; check the path and that the volume is mounted`,
    );
  });
  if (!found.isFile())
    throw new MillError('source-not-a-file', `${shown} is not a file; name each file of a folder by itself`);
  if (found.size === 0) throw new MillError('source-empty', `${shown} is empty; copy it again from the card`);
  return { bytes: found.size, modifiedMs: found.mtimeMs };
}

/** Throws MillError when the deliverable's place is taken, can't be written, or lies outside its volume. */
export async function checkDestination(
  roots: VolumeRoots,
  path: VolumePath,
  replace: boolean,
): Promise<void> {
  const local = localPath(roots, path);
  const shown = JSON.stringify(formatVolumePath(path));
  const folder = await deepestFolder(dirname(local));
  await requireInside(rootOf(roots, path.volume), folder, shown);
  await requireNoFileOnTheWay(folder, local, shown);
  const taken = await lstat(local).catch(() => null);
  if (taken?.isDirectory())
    throw new MillError('destination-exists', `${shown} is a folder; deliver to another folder`);
  if (taken && !replace)
    throw new MillError(
      'destination-exists',
      `${shown} is already there; move it away, or submit with "replace": true`,
    );
  await access(folder, constants.W_OK).catch(() => {
    throw new MillError(
      'destination-unwritable',
      `the folder of ${shown} cannot be written; check its permissions and that the volume is mounted for writing`,
    );
  });
}

/** `folder` is the deepest one that is there: what stands below it on the way to `local` is in the way. */
async function requireNoFileOnTheWay(folder: string, local: string, shown: string): Promise<void> {
  const [next, ...rest] = relative(folder, local).split(sep);
  if (next === undefined || rest.length === 0) return;
  if ((await lstat(join(folder, next)).catch(() => null)) === null) return;
  throw new MillError(
    'destination-unwritable',
    `${shown} would lie below ${JSON.stringify(next)}, which is no folder; deliver to another folder`,
  );
}

/** Bytes that may still be written near `path`; null when the system doesn't tell. */
export async function freeBytes(roots: VolumeRoots, path: VolumePath): Promise<number | null> {
  const folder = await deepestFolder(dirname(localPath(roots, path)));
  const system = await statfs(folder).catch(() => null);
  return system === null ? null : system.bavail * system.bsize;
}

function rootOf(roots: VolumeRoots, volume: string): string {
  const root = Object.hasOwn(roots, volume) ? roots[volume] : undefined;
  if (root !== undefined) return root;
  const names = Object.keys(roots);
  const known = names.length === 0 ? 'none is configured' : `there are ${names.join(', ')}`;
  throw new MillError('unknown-volume', `there is no volume ${JSON.stringify(volume)}; ${known}`);
}

function localPath(roots: VolumeRoots, path: VolumePath): string {
  return toLocalPath(rootOf(roots, path.volume), path.path, flavour);
}

async function requireInside(root: string, local: string, shown: string): Promise<void> {
  const [base, real] = await Promise.all(
    [realpath(root), realpath(local)].map((found) => found.catch(() => null)),
  );
  // What doesn't exist can't lead anywhere; the caller tells that it is missing.
  if (base == null || real == null) return;
  const way = relative(base, real);
  if (way === '..' || way.startsWith('../') || way.startsWith('..\\') || isAbsolute(way)) {
    throw new MillError(
      'outside-volume',
      `${shown} leads out of its volume by a link; name the file where it really lies`,
    );
  }
}

async function deepestFolder(folder: string): Promise<string> {
  const found = await stat(folder).catch(() => null);
  if (found?.isDirectory()) return folder;
  const above = dirname(folder);
  return above === folder ? folder : deepestFolder(above);
}
