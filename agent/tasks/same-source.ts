// Opens a source for a later step and makes sure that it is still the file that was inspected.
import { stat } from 'node:fs/promises';
import { MillError } from '#shared/errors.ts';
import type { Source } from '#shared/task.ts';
import type { TaskContext } from './task-context.ts';

/** Absolute path of the source. Throws MillError `source-changed` besides what `openSource` throws. */
export async function openSameSource(context: Pick<TaskContext, 'volumes'>, source: Source): Promise<string> {
  const local = await context.volumes.openSource(source.path);
  const found = await stat(local);
  // Modification times survive a copy to another file system only to the second or two (FAT: 2 s).
  if (found.size === source.bytes && Math.abs(found.mtimeMs - source.modifiedMs) <= 2_000) return local;
  throw new MillError(
    'source-changed',
    `${JSON.stringify(source.path)} is not the file that was inspected: ${found.size} bytes instead of ${source.bytes}, or another time; retry the job when the file rests`,
  );
}
