// The join task: grains in order and the sound beside them become one file, without decoding anything.
import { writeFile } from 'node:fs/promises';
import path from 'node:path';
import { MillError } from '#shared/errors.ts';
import { wrapperExtensions } from '#shared/house-format.ts';
import type { JoinTask, TaskResult } from '#shared/task.ts';
import { headerRoom } from '../media/header-room.ts';
import { concatScript, metadataFile } from '../media/join-list.ts';
import { joinLosses } from '../media/join-losses.ts';
import { pictureStart } from '../media/picture-start.ts';
import { plannedSound } from '../media/planned-sound.ts';
import { allOrNone } from '../tools/all-or-none.ts';
import { hashFile } from '../tools/hash-file.ts';
import { runJoin } from './join/run-join.ts';
import { openGrains, verifyBytes } from './join/verify-grains.ts';
import type { TaskContext } from './task-context.ts';

type JoinResult = Extract<TaskResult, { kind: 'join' }>;

/** Throws MillError `join-failed`, `signature-mismatch`, `no-space`, `timeout` or `stale-attempt`. */
export async function joinGrains(task: JoinTask, context: TaskContext): Promise<JoinResult> {
  const grains = await openGrains(task, context);
  const sound = await openSound(task, context);
  const { wrapper } = task.format;
  const { rate } = task.plan;
  const inScratch = (name: string) => path.join(context.scratch, name);
  const name = `joined${wrapperExtensions[wrapper]}`;
  const files = {
    script: inScratch('grains.ffconcat'),
    metadata: inScratch('film.ffmetadata'),
    sound,
    output: inScratch(name),
    headerRoom: headerRoom(task),
  };
  await writeFile(files.script, concatScript(grains, rate));
  const { tags, chapters } = task.facts;
  await writeFile(
    files.metadata,
    metadataFile({ tags, chapters, wrapper, start: pictureStart({ wrapper, rate }, plannedSound(task)) }),
  );
  await allOrNone(context.signal, (signal) => [
    runJoin(task, files, signal),
    // Beside the join, since both read the same: what it wrote from wrong bytes is never stored.
    verifyBytes(task, grains, signal),
  ]);
  const stored = await context.granary.store(files.output, name);
  return { kind: 'join', ...stored, dropped: joinLosses(task) };
}

async function openSound({ sound, plan }: JoinTask, context: TaskContext): Promise<string[]> {
  if (sound.length !== plan.sound.length) {
    throw new MillError(
      'join-failed',
      `${sound.length} sound files were given to the join where ${plan.sound.length} are due; have the sound made again`,
    );
  }
  const paths: string[] = [];
  for (const { startSeconds: _, ...file } of sound) {
    const local = await context.granary.open(file);
    const found = await hashFile(local, context.signal);
    if (found.hash.hex !== file.hash.hex) {
      throw new MillError(
        'join-failed',
        `the sound file ${file.file} has other bytes than were stored; check the granary's disk, then have the sound made again`,
        {
          details: { file: file.file, hash: found.hash.hex, dueHash: file.hash.hex },
        },
      );
    }
    paths.push(local);
  }
  return paths;
}
