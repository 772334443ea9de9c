// Takes a source through the real tasks up to the join, by two attempts, so that there is a seam in the middle.
import { link } from 'node:fs/promises';
import path from 'node:path';
import type { MediaFacts } from '#shared/facts.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import { builtInFormats } from '#shared/house-formats.ts';
import { grainCount, type Plan } from '#shared/plan.ts';
import type { CheckTask, EncodeTask, GrainReport, GranaryFile, JoinTask, SoundFile } from '#shared/task.ts';
import { encodeSegment } from '../../../agent/tasks/encode-segment.ts';
import { encodeSound } from '../../../agent/tasks/encode-sound.ts';
import { inspectSource } from '../../../agent/tasks/inspect-source.ts';
import { makePlan } from '../../../coordinator/plan/make-plan.ts';
import { seekSeconds } from '../../../coordinator/plan/seek-point.ts';
import type { TaskWorld } from './task-world.ts';

export type Film = {
  readonly facts: MediaFacts;
  readonly plan: Plan;
  readonly grains: readonly (GrainReport & { readonly attempt: number })[];
  readonly joinTask: JoinTask;
  checkTask(joined: GranaryFile): CheckTask;
};

export type FilmRequest = {
  /** A media file; it is linked into the volume `media:`. */
  readonly source: string;
  readonly format: HouseFormat;
  readonly grainSeconds?: number;
};

const jobId = 'j0123abcd';

export function builtInFormat(name: string): HouseFormat {
  const format = builtInFormats.find((one) => one.name === name);
  if (format === undefined) throw new Error(`no built-in format ${name}`);
  return format;
}

export async function makeFilm(
  world: TaskWorld,
  { source, format, grainSeconds = 1 }: FilmRequest,
): Promise<Film> {
  const volumePath = `media:${path.basename(source)}`;
  await link(source, path.join(world.volume, path.basename(source))).catch(() => undefined);
  const { facts } = await inspectSource(
    { kind: 'inspect', jobId, attempt: 1, path: volumePath },
    world.context,
  );
  const plan = makePlan({ facts, format, grainSeconds, damageMet: false });
  const { bytes, modifiedMs, demuxer, containerStartSeconds } = facts;
  const of = { path: volumePath, bytes, modifiedMs, demuxer, containerStartSeconds };
  const { keyframes: _, ...track } = facts.picture;
  const common = { jobId, source: of };
  const grains: (GrainReport & { attempt: number })[] = [];
  for (const { attempt, first, end } of halves(plan)) {
    const task: EncodeTask = {
      ...{
        ...common,
        kind: 'encode',
        attempt,
        lane: 'software',
        track,
        way: plan.picture,
        format,
        rate: plan.rate,
      },
      ...{
        totalFrames: plan.frames,
        grainFrames: plan.grainFrames,
        gopFrames: plan.gopFrames,
        range: { first, end },
      },
      seekSeconds: seekSeconds(facts, plan, first),
    };
    await encodeSegment(task, {
      ...world.context,
      report: {
        progress: async () => ({ proceed: true, end }),
        grain: async (grain) => {
          grains.push({ ...grain, attempt });
          return { proceed: true, end };
        },
      },
    });
  }
  const sound = await makeSound(world, {
    ...common,
    kind: 'sound',
    attempt: 4,
    track,
    tracks: plan.sound,
    wrapper: format.wrapper,
  });
  const task = { ...common, attempt: 5, facts, format, plan };
  return {
    ...{ facts, plan, grains },
    joinTask: {
      ...task,
      kind: 'join',
      sound,
      grains: grains.map(({ file, bytes, hash, frames }) => ({ file, bytes, hash, frames })),
    },
    checkTask: (joined) => ({
      ...{ ...task, kind: 'check', attempt: 6, joined },
      grains: grains.map(({ index, frames, attempt, firstPicture, nextPicture }) => {
        const first = index * plan.grainFrames;
        return { first, end: first + frames, attempt, firstPicture, nextPicture };
      }),
    }),
  };
}

async function makeSound(world: TaskWorld, task: Parameters<typeof encodeSound>[0]): Promise<SoundFile[]> {
  return task.tracks.length === 0 ? [] : (await encodeSound(task, world.context)).tracks;
}

/** Two segments that meet at a grain border; one when there is a single grain or the source can't be split. */
function halves(plan: Plan): { attempt: number; first: number; end: number }[] {
  const middle = Math.floor(grainCount(plan) / 2) * plan.grainFrames;
  if (middle === 0 || plan.wholeBecause !== null) return [{ attempt: 2, first: 0, end: plan.frames }];
  return [
    { attempt: 2, first: 0, end: middle },
    { attempt: 3, first: middle, end: plan.frames },
  ];
}
