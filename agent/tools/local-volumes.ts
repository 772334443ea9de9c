// This machine's view of the volumes: volume paths to absolute paths, with proof that no link leads out of a volume.
// Sources are only ever looked up here; nothing in the agent opens one for writing (N5).
import { constants } from 'node:fs';
import { access, mkdir, realpath, stat } from 'node:fs/promises';
import path from 'node:path';
import { MillError } from '#shared/errors.ts';
import { fromLocalPath, type PathFlavour, parseVolumePath, toLocalPath } from '#shared/volume-path.ts';
import { isErrno } from './publish-file.ts';

/** Volume name → absolute folder on this machine. */
export type VolumeRoots = Readonly<Record<string, string>>;

export const ownFlavour: PathFlavour = process.platform === 'win32' ? 'windows' : 'posix';

type Place = {
  readonly text: string;
  readonly volume: string;
  readonly root: string;
  readonly local: string;
};

/** The absolute, link-free path of an existing, non-empty file. Errors: see `Volumes.openSource` of the tasks. */
export async function openSource(roots: VolumeRoots, volumePath: string): Promise<string> {
  const place = await locate(roots, volumePath);
  const real = await realpath(place.local).catch((error: unknown) => {
    throw new MillError(
      'source-missing',
      `${volumePath} is not there on this machine (${place.local}); check the name`,
      {
        cause: error,
      },
    );
  });
  requireInside(place, real);
  const stats = await stat(real);
  if (!stats.isFile()) {
    throw new MillError(
      'source-not-a-file',
      `${volumePath} is not a regular file; name the media file itself`,
    );
  }
  if (stats.size === 0)
    throw new MillError('source-empty', `${volumePath} has 0 bytes; copy the source again`);
  return real;
}

/** The absolute path for a file to be written; its folder is there and writable afterwards. */
export async function prepareDestination(roots: VolumeRoots, volumePath: string): Promise<string> {
  const place = await locate(roots, volumePath);
  if (place.local === place.root) {
    throw new MillError(
      'bad-request',
      `${volumePath} names no file; give the deliverable's name below the volume`,
    );
  }
  const folder = path.dirname(place.local);
  try {
    // Before anything is made: a linked folder on the way may lead out of the volume.
    requireInside(place, await realpath(await nearestExisting(folder)));
    await mkdir(folder, { recursive: true });
    const real = await realpath(folder);
    requireInside(place, real);
    await access(real, constants.W_OK | constants.X_OK);
    return path.join(real, path.basename(place.local));
  } catch (error) {
    if (error instanceof MillError) throw error;
    throw new MillError(
      'destination-unwritable',
      `cannot write in ${folder} for ${volumePath}; check its permissions`,
      {
        cause: error,
      },
    );
  }
}

/** What a volume's folder allows now. Never throws. */
export async function probeVolume(root: string): Promise<{ readable: boolean; writable: boolean }> {
  const allows = (mode: number) =>
    access(root, mode).then(
      () => true,
      () => false,
    );
  const readable = await allows(constants.R_OK | constants.X_OK);
  return { readable, writable: readable && (await allows(constants.W_OK)) };
}

async function locate(roots: VolumeRoots, text: string): Promise<Place> {
  const { volume, path: below } = parseVolumePath(text);
  const configured = Object.hasOwn(roots, volume) ? roots[volume] : undefined;
  if (configured === undefined) {
    throw new MillError(
      'unknown-volume',
      `the volume ${volume} is not set up on this machine; add it under "volumes"`,
    );
  }
  const root = await realpath(configured).catch((error: unknown) => {
    throw new MillError(
      'unknown-volume',
      `the folder ${configured} of volume ${volume} is not there; is it mounted?`,
      {
        cause: error,
      },
    );
  });
  return { text, volume, root, local: toLocalPath(root, below, ownFlavour) };
}

function requireInside({ text, root, volume }: Place, real: string): void {
  if (real !== root && fromLocalPath(root, real, ownFlavour) === null) {
    throw new MillError(
      'outside-volume',
      `${text} leads out of volume ${volume} through a link; use the file's own path`,
    );
  }
}

/** `folder`, or the closest one above it that is there. */
async function nearestExisting(folder: string): Promise<string> {
  try {
    await access(folder);
    return folder;
  } catch (error) {
    const above = path.dirname(folder);
    if (above === folder || !isErrno(error, 'ENOENT')) return folder;
    return nearestExisting(above);
  }
}
