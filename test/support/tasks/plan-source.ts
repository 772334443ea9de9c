// From a test source to the encode tasks that the coordinator would give out for it.
import { copyFile } from 'node:fs/promises';
import { basename, join } from 'node:path';
import type { MediaFacts } from '#shared/facts.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import { builtInFormats } from '#shared/house-formats.ts';
import type { Plan } from '#shared/plan.ts';
import type { FrameRange } from '#shared/schema-parts.ts';
import type { EncodeTask } from '#shared/task.ts';
import { inspectSource } from '../../../agent/tasks/inspect-source.ts';
import { makePlan } from '../../../coordinator/plan/make-plan.ts';
import { seekSeconds } from '../../../coordinator/plan/seek-point.ts';
import { makeSource, type SourceName } from '../sources/make-source.ts';
import type { TaskWorld } from './task-world.ts';

export type PlannedSource = {
  readonly volumePath: string;
  readonly facts: MediaFacts;
  readonly format: HouseFormat;
  readonly plan: Plan;
};

/** Copies the source into the world's volume, inspects it there and plans it with grains of one second. */
export async function planSource(
  world: TaskWorld,
  name: SourceName,
  format: HouseFormat,
): Promise<PlannedSource> {
  const { path } = await makeSource(name);
  return planFile(world, path, format);
}

export async function planFile(world: TaskWorld, path: string, format: HouseFormat): Promise<PlannedSource> {
  const volumePath = `media:${basename(path)}`;
  await copyFile(path, join(world.volume, basename(path)));
  const { facts } = await inspectSource(
    { jobId: 'jtest00000', attempt: 1, kind: 'inspect', path: volumePath },
    world.context,
  );
  return { volumePath, facts, format, plan: makePlan({ facts, format, grainSeconds: 1, damageMet: false }) };
}

export function encodeTaskFor(
  { volumePath, facts, format, plan }: PlannedSource,
  range: FrameRange,
  attempt = 1,
): EncodeTask {
  const { keyframes: _, ...track } = facts.picture;
  const { bytes, modifiedMs, demuxer, containerStartSeconds } = facts;
  return {
    ...{
      jobId: 'jtest00000',
      attempt,
      kind: 'encode',
      lane: 'test',
      track,
      way: plan.picture,
      format,
      range,
    },
    source: { path: volumePath, bytes, modifiedMs, demuxer, containerStartSeconds },
    ...{
      rate: plan.rate,
      totalFrames: plan.frames,
      grainFrames: plan.grainFrames,
      gopFrames: plan.gopFrames,
    },
    seekSeconds: seekSeconds(facts, plan, range.first),
  };
}

export function formatNamed(name: string): HouseFormat {
  const format = builtInFormats.find((candidate) => candidate.name === name);
  if (format === undefined) throw new Error(`there is no built-in format ${name}`);
  return format;
}
