// A world for one task in a test: real folders for a volume, the granary and scratch, and a record of what was reported.
import { copyFile, mkdir, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import type { Lease } from '#shared/link.ts';
import type { GranaryFile } from '#shared/task.ts';
import type { TaskContext } from '../../../agent/tasks/task-context.ts';
import { hashFile } from '../../../agent/tools/hash-file.ts';
import { openSource, prepareDestination } from '../../../agent/tools/local-volumes.ts';

export type TaskWorld = AsyncDisposable & {
  readonly root: string;
  /** Folder of the volume `media:`. */
  readonly volume: string;
  readonly granary: string;
  readonly context: TaskContext;
  readonly stop: AbortController;
  /** Called for each progress report; the answer is the lease. */
  onProgress: () => Promise<Lease> | Lease;
  /** Warnings that were logged. */
  readonly warnings: string[];
  /** Copies a file into the granary. */
  keep(file: string, name: string): Promise<GranaryFile>;
};

export async function makeTaskWorld(): Promise<TaskWorld> {
  const root = await mkdtemp(path.join(tmpdir(), 'nightmill-task-'));
  const [volume, granary, scratch] = ['volume', 'granary', 'scratch'].map((name) =>
    path.join(root, name),
  ) as [string, string, string];
  await Promise.all([volume, granary, scratch].map((folder) => mkdir(folder)));
  const stop = new AbortController();
  const warnings: string[] = [];
  const keep = async (file: string, name: string) => {
    const to = path.join(granary, name);
    await mkdir(path.dirname(to), { recursive: true });
    if (file !== to) await copyFile(file, to);
    return { file: name, ...(await hashFile(to)) };
  };
  const world: TaskWorld = {
    root,
    volume,
    granary,
    stop,
    warnings,
    keep,
    onProgress: () => ({ proceed: true, end: 0 }),
    context: {
      signal: stop.signal,
      scratch,
      volumes: {
        openSource: (volumePath) => openSource({ media: volume }, volumePath),
        destination: (volumePath) => prepareDestination({ media: volume }, volumePath),
      },
      granary: { open: async ({ file }) => path.join(granary, file), store: keep },
      report: {
        progress: async () => world.onProgress(),
        grain: async () => ({ proceed: true, end: 0 }),
      },
      log: { info: () => undefined, warn: (_fields, message) => void warnings.push(message) },
    },
    [Symbol.asyncDispose]: () => rm(root, { recursive: true, force: true }),
  };
  return world;
}
