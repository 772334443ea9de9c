// A long film's join without the hours of encoding: real grains and real sound of a short film, and so many copies of the
// grains, each a file of its own, that the joined file is long.
import { copyFile, mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import type { HouseFormat } from '#shared/house-format.ts';
import type { EncodeTask, GrainReport, JoinTask } from '#shared/task.ts';
import { openGranary } from '../../../agent/link/granary.ts';
import { encodeSegment } from '../../../agent/tasks/encode-segment.ts';
import { encodeSound } from '../../../agent/tasks/encode-sound.ts';
import { inspectSource } from '../../../agent/tasks/inspect-source.ts';
import type { TaskContext } from '../../../agent/tasks/task-context.ts';
import { openSource } from '../../../agent/tools/local-volumes.ts';
import { makePlan } from '../../../coordinator/plan/make-plan.ts';

const ref = { jobId: 'jbench0000', attempt: 1 } as const;
const lease = { proceed: true, end: Number.MAX_SAFE_INTEGER } as const;

export type LongJoin = { readonly task: JoinTask; readonly context: TaskContext; readonly granary: string };

/** `folder`: where volume, granary and scratch are made. `film`: absolute path of a film without timecode or chapters. */
export async function prepareLongJoin(
  folder: string,
  film: string,
  request: { format: HouseFormat; copies: number },
): Promise<LongJoin> {
  const { format, copies } = request;
  const grains: GrainReport[] = [];
  const context = await makeContext(folder, grains);
  await copyFile(film, join(folder, 'volume', 'film.mp4'));
  const path = 'media:film.mp4';
  const { facts } = await inspectSource({ ...ref, kind: 'inspect', path }, context);
  const plan = makePlan({ facts, format, grainSeconds: null, damageMet: false });
  const { keyframes: _, ...track } = facts.picture;
  const { bytes, modifiedMs, demuxer, containerStartSeconds } = facts;
  const source = { path, bytes, modifiedMs, demuxer, containerStartSeconds };
  const { rate, frames: totalFrames, grainFrames, gopFrames, picture: way } = plan;
  const encode: EncodeTask = {
    ...ref,
    kind: 'encode',
    lane: 'bench',
    source,
    track,
    way,
    format,
    rate,
    totalFrames,
    grainFrames,
    gopFrames,
    range: { first: 0, end: totalFrames },
    seekSeconds: null,
  };
  await encodeSegment(encode, context);
  const sound = await encodeSound(
    { ...ref, kind: 'sound', source, track, tracks: plan.sound, wrapper: format.wrapper },
    context,
  );
  const granary = join(folder, 'granary');
  return {
    context,
    granary,
    task: {
      ...ref,
      kind: 'join',
      source,
      facts,
      format,
      sound: sound.tracks,
      plan: { ...plan, frames: plan.frames * copies },
      grains: await copyGrains(granary, grains, copies),
    },
  };
}

async function copyGrains(
  granary: string,
  grains: readonly GrainReport[],
  copies: number,
): Promise<JoinTask['grains']> {
  const all: JoinTask['grains'] = [];
  for (let copy = 0; copy < copies; copy += 1) {
    for (const { file, bytes, hash, frames } of grains) {
      const name = file.replace(/(\.\w+)$/, `-${copy}$1`);
      await copyFile(join(granary, file), join(granary, name));
      all.push({ file: name, bytes, hash, frames });
    }
  }
  return all;
}

/** The agent's own granary, reached as a folder. */
async function makeContext(folder: string, grains: GrainReport[]): Promise<TaskContext> {
  const [volume, granary, scratch] = ['volume', 'granary', 'scratch'].map((name) => join(folder, name)) as [
    string,
    string,
    string,
  ];
  await Promise.all([volume, granary, scratch].map((path) => mkdir(path, { recursive: true })));
  const signal = new AbortController().signal;
  const nothing = () => {};
  const log = { debug: nothing, info: nothing, warn: nothing, error: nothing, child: () => log };
  const coordinator = { baseUrl: new URL('http://127.0.0.1:9'), token: null };
  return {
    signal,
    scratch,
    log,
    volumes: {
      openSource: (path) => openSource({ media: volume }, path),
      destination: () => Promise.reject(new Error('nothing is delivered here')),
    },
    granary: openGranary({
      coordinator,
      ...ref,
      folder: () => granary,
      scratch,
      signal,
      onStale: nothing,
      log,
    }),
    report: {
      progress: async () => lease,
      grain: async (grain) => {
        grains.push(grain);
        return lease;
      },
    },
  };
}
