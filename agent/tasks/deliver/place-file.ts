// Gives a proven temporary file its final name in one step that never replaces what nobody allowed to be replaced.
import { link, lstat, open, readdir, rename, rm } from 'node:fs/promises';
import path from 'node:path';
import { MillError } from '#shared/errors.ts';
import { reportSuffix } from '#shared/house-format.ts';
import type { DeliverTask } from '#shared/task.ts';
import { isErrno } from '../../tools/publish-file.ts';
import type { TaskContext } from '../task-context.ts';
import { isLeftover, partName } from './part-name.ts';

export type Placing = {
  readonly target: string;
  /** Writes and proves the temporary file at the given path, which must not exist yet. */
  readonly write: (part: string) => Promise<void>;
  readonly task: DeliverTask;
  readonly context: TaskContext;
};

/** Resolves with notes on what was weaker than usual. The temporary file is gone afterwards, whatever happens. */
export async function placeFile({ target, write, task, context }: Placing): Promise<string[]> {
  const part = partName(target, task);
  try {
    await write(part);
    await requireCurrent(context);
    const notes = task.replace ? await replaceName(part, target) : await takeFreeName(part, target);
    await flushFolder(path.dirname(target));
    return notes;
  } finally {
    await rm(part, { force: true }).catch((error: unknown) =>
      context.log.warn({ part, error: String(error) }, 'a temporary file could not be removed'),
    );
  }
}

/** Removes what attempts of this job that were killed left beside `target` and its report. */
export async function removeLeftovers(target: string, task: DeliverTask): Promise<void> {
  const folder = path.dirname(target);
  const names = await readdir(folder).catch(() => []);
  const left = names.filter((name) =>
    [target, `${target}${reportSuffix}`].some((file) => isLeftover(name, file, task)),
  );
  await Promise.all(left.map((name) => rm(path.join(folder, name), { force: true })));
}

/** A stale attempt must not publish (N7): the coordinator is asked at the last moment. */
async function requireCurrent({ report, signal }: TaskContext): Promise<void> {
  const lease = await report.progress({ frames: 0, seconds: 0 });
  signal.throwIfAborted();
  if (!lease.proceed)
    throw new MillError('stale-attempt', 'this delivery no longer counts; another attempt has taken over');
}

/** Linking fails when the name exists, on every file system that can link at all, even if it appeared just now. */
async function takeFreeName(part: string, target: string): Promise<string[]> {
  try {
    await link(part, target);
    return [];
  } catch (error) {
    if (isErrno(error, 'EEXIST')) return requireOwnLink(part, target);
    if (!isErrno(error, 'EPERM', 'ENOTSUP', 'EOPNOTSUPP', 'ENOSYS', 'EINVAL', 'EMLINK', 'EACCES', 'UNKNOWN'))
      throw error;
  }
  if (await exists(target)) throw taken(target);
  await rename(part, target);
  return [
    'this destination cannot link, so a file that appeared under the name in the last instant would have been replaced',
  ];
}

/** A network file system may answer "exists" to a link that it made itself, when its first answer was lost. */
async function requireOwnLink(part: string, target: string): Promise<string[]> {
  const [own, found] = await Promise.all([lstat(part, { bigint: true }), lstat(target, { bigint: true })]);
  if (own.ino !== 0n && own.ino === found.ino && own.dev === found.dev) return [];
  throw taken(target);
}

async function replaceName(part: string, target: string): Promise<string[]> {
  await rename(part, target);
  return [];
}

async function exists(file: string): Promise<boolean> {
  return lstat(file).then(
    () => true,
    () => false,
  );
}

function taken(target: string): MillError {
  return new MillError(
    'destination-exists',
    `${target} appeared while the deliverable was being copied; move it or choose another name`,
    {
      details: { path: target },
    },
  );
}

/** The name is durable only when its folder is. Windows has no such call; some network file systems refuse it. */
async function flushFolder(folder: string): Promise<void> {
  if (process.platform === 'win32') return;
  try {
    await using handle = await open(folder, 'r');
    await handle.sync();
  } catch (error) {
    if (!isErrno(error, 'EINVAL', 'EISDIR', 'EPERM', 'EACCES', 'ENOTSUP')) throw error;
  }
}
