// Looks at every grain's bytes before the join: the ones that were stored, of one kind, as many pictures as promised.
// ffmpeg would join anything without a word.
import { MillError } from '#shared/errors.ts';
import type { JoinTask } from '#shared/task.ts';
import type { ListedGrain } from '../../media/join-list.ts';
import { readPictureHeader, type SampleDescription } from '../../media/movie-header.ts';
import { hashFile } from '../../tools/hash-file.ts';
import { readMovieHeader } from '../../tools/read-movie-header.ts';
import type { TaskContext } from '../task-context.ts';

type Grain = JoinTask['grains'][number];

/** Opening waits for the storage more than it works. */
const openedAtOnce = 8;

/**
 * Opens the grains and looks at their headers. Throws MillError `join-failed` for a grain that isn't what was promised and
 * `signature-mismatch` for another kind of stream, naming the grain.
 */
export async function openGrains(task: JoinTask, context: TaskContext): Promise<ListedGrain[]> {
  const listed: ListedGrain[] = [];
  let kind: SampleDescription | null = null;
  for (let at = 0; at < task.grains.length; at += openedAtOnce) {
    const some = task.grains.slice(at, at + openedAtOnce);
    const opened = await Promise.all(some.map((grain, i) => openGrain({ grain, index: at + i }, context)));
    for (const [i, { path, description }] of opened.entries()) {
      const grain = some[i] as Grain;
      kind ??= description;
      if (kind.name !== description.name || kind.content !== description.content)
        throw otherKind(at + i, grain);
      listed.push({ path, frames: grain.frames });
    }
  }
  requireSum(task);
  return listed;
}

async function openGrain({ grain, index }: { grain: Grain; index: number }, { granary }: TaskContext) {
  const path = await granary.open(grain);
  return { path, description: await requireHeader({ index, grain, path }) };
}

/** Throws MillError `join-failed` when a grain has other bytes than were stored. `opened`: what `openGrains` answered. */
export async function verifyBytes(
  { grains }: JoinTask,
  opened: readonly ListedGrain[],
  signal: AbortSignal,
): Promise<void> {
  for (const [index, grain] of grains.entries()) {
    await requireBytes({ index, grain, path: opened[index]?.path ?? '' }, signal);
  }
}

type OpenGrain = { readonly index: number; readonly grain: Grain; readonly path: string };

async function requireBytes({ index, grain, path }: OpenGrain, signal: AbortSignal): Promise<void> {
  const found = await hashFile(path, signal);
  if (found.bytes === grain.bytes && found.hash.hex === grain.hash.hex) return;
  throw new MillError(
    'join-failed',
    `grain ${index} (${grain.file}) has other bytes than were stored; check the granary's disk, then have the grain made again`,
    {
      details: {
        grain: index,
        file: grain.file,
        bytes: found.bytes,
        hash: found.hash.hex,
        dueBytes: grain.bytes,
        dueHash: grain.hash.hex,
      },
    },
  );
}

async function requireHeader({ index, grain, path }: OpenGrain): Promise<SampleDescription> {
  const header = await readMovieHeader(path);
  const picture = header && readPictureHeader(header.moov);
  const details = { grain: index, file: grain.file };
  const [description, ...more] = picture?.descriptions ?? [];
  if (!picture || description === undefined || more.length > 0) {
    throw new MillError(
      'join-failed',
      `grain ${index} (${grain.file}) has not one picture track of one kind; have the grain made again`,
      { details },
    );
  }
  if (picture.samples !== grain.frames) {
    throw new MillError(
      'join-failed',
      `grain ${index} (${grain.file}) holds ${picture.samples} pictures where ${grain.frames} are due; have the grain made again`,
      { details },
    );
  }
  return description;
}

function requireSum({ grains, plan }: JoinTask): void {
  const frames = grains.reduce((sum, grain) => sum + grain.frames, 0);
  if (frames === plan.frames) return;
  throw new MillError(
    'join-failed',
    `the grains hold ${frames} pictures together where ${plan.frames} are due`,
    { details: { frames, due: plan.frames } },
  );
}

function otherKind(index: number, grain: Grain): MillError {
  return new MillError(
    'signature-mismatch',
    `grain ${index} (${grain.file}) is of another kind than grain 0: size, parameter sets, aspect or colour differ; have it made again on the first grain's lane`,
    { details: { grain: index, file: grain.file } },
  );
}
