// Gives a slow file to many callers, in one process or several, and makes it once. The lock only saves
// work: the file is drafted in a private folder and renamed, so it is whole even if two callers make it.
import { mkdtemp, readFile, rename, rm, stat, writeFile } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';

const pollMs = 50;
/** Older than any recipe takes: a lock whose process number was given to another program. */
const staleMs = 600_000;

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
      await rm(lockPath, { force: true });
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

/** The lock holds its owner's process number, so that a killed run holds nobody up. */
async function takeLock(lockPath: string): Promise<boolean> {
  try {
    await writeFile(lockPath, String(process.pid), { flag: 'wx' });
    return true;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') {
      throw error;
    }
    if (await isAbandoned(lockPath)) {
      await rm(lockPath, { force: true });
    }
    return false;
  }
}

async function isAbandoned(lockPath: string): Promise<boolean> {
  const owner = Number(await readFile(lockPath, 'utf8').catch(() => ''));
  return (owner > 0 && !isRunning(owner)) || ((await ageMs(lockPath)) ?? 0) > staleMs;
}

/** Signal 0 is sent to nobody: it only asks. Not being allowed to send it means that somebody is there. */
function isRunning(processId: number): boolean {
  try {
    return process.kill(processId, 0);
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
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
