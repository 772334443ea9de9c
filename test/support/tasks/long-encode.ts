// An encode task that takes a good while, for tests that end it before it does.
import path from 'node:path';
import { execa } from 'execa';
import type { EncodeTask } from '#shared/task.ts';
import { inspectSource } from '../../../agent/tasks/inspect-source.ts';
import { makePlan } from '../../../coordinator/plan/make-plan.ts';
import { formatNamed } from './plan-source.ts';
import { makeTaskWorld } from './task-world.ts';

export type LongEncode = {
  readonly task: EncodeTask;
  /** The file that the task knows as `media:long.mp4`. */
  readonly source: string;
  remove(): Promise<void>;
};

export async function makeLongEncode(ref: { jobId: string; attempt: number }): Promise<LongEncode> {
  const world = await makeTaskWorld();
  const source = path.join(world.volume, 'long.mp4');
  const picture = ['-f', 'lavfi', '-i', 'testsrc2=size=1280x720:rate=25:duration=12'];
  await execa('ffmpeg', ['-hide_banner', '-nostdin', ...picture, '-c:v', 'mpeg4', '-g', '25', source]);
  const { facts } = await inspectSource({ ...ref, kind: 'inspect', path: 'media:long.mp4' }, world.context);
  const format = formatNamed('storage-copy');
  const plan = makePlan({ facts, format, grainSeconds: null, damageMet: false });
  const { keyframes: _, ...track } = facts.picture;
  const { bytes, modifiedMs, demuxer, containerStartSeconds } = facts;
  const task: EncodeTask = {
    ...ref,
    kind: 'encode',
    lane: 'libx265',
    source: { path: 'media:long.mp4', bytes, modifiedMs, demuxer, containerStartSeconds },
    track,
    way: plan.picture,
    format,
    rate: plan.rate,
    totalFrames: plan.frames,
    grainFrames: plan.grainFrames,
    gopFrames: plan.gopFrames,
    range: { first: 0, end: plan.frames },
    seekSeconds: null,
  };
  return { task, source, remove: async () => world[Symbol.asyncDispose]() };
}
