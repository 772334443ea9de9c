// Gives a slow file to many callers, in one process or several, and makes it once. The lock only saves
// work: the file is drafted in a private folder and renamed, so it is whole even if two callers make it.
import { mkdir, mkdtemp, rename, rm, rmdir, stat } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';

const pollMs = 50;
/** A lock older than this was left by a process that died. */
const staleMs = 150_000;

const underway = new Map<string, Promise<void>>();

/** Resolves once `path` exists. `make` writes to the path that it is given and may leave files beside it. */
export function makeFileOnce(path: string, make: (draftPath: string) => Promise<void>): Promise<void> {
  const running = underway.get(path);
  if (running !== undefined) {
    return running;
  }
  const started = makeUnderLock(path, make).finally(() => underway.delete(path));
  underway.set(path, started);
  return started;
}

async function makeUnderLock(path: string, make: (draftPath: string) => Promise<void>): Promise<void> {
  const lockPath = `${path}.lock`;
  while (!(await exists(path))) {
    if (!(await takeLock(lockPath))) {
      await pause(pollMs);
      continue;
    }
    try {
      if (!(await exists(path))) {
        await draftAndRename(path, make);
      }
    } finally {
      await rm(lockPath, { recursive: true, force: true });
    }
  }
}

async function draftAndRename(path: string, make: (draftPath: string) => Promise<void>): Promise<void> {
  const folder = await mkdtemp(join(dirname(path), 'draft-'));
  try {
    const draftPath = join(folder, basename(path));
    await make(draftPath);
    await rename(draftPath, path);
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

/** A folder, since making one fails on every system if it is there. */
async function takeLock(lockPath: string): Promise<boolean> {
  try {
    await mkdir(lockPath);
    return true;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') {
      throw error;
    }
    const age = await ageMs(lockPath);
    if (age !== undefined && age > staleMs) {
      await rmdir(lockPath).catch(() => undefined);
    }
    return false;
  }
}

async function ageMs(path: string): Promise<number | undefined> {
  return stat(path).then(
    (found) => Date.now() - found.mtimeMs,
    () => undefined,
  );
}

async function exists(path: string): Promise<boolean> {
  return (await ageMs(path)) !== undefined;
}
