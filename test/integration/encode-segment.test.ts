// The encode task with the real encoders: grains that stand alone, of one kind over separate processes (N3), with the
// source's own picture at every border; leases that move and attempts that stop; sources that lie.
import { readdir, truncate, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { HouseFormat } from '#shared/house-format.ts';
import type { Lease } from '#shared/link.ts';
import type { EncodeTask, GrainReport } from '#shared/task.ts';
import { encodeSegment } from '../../agent/tasks/encode-segment.ts';
import type { TaskContext } from '../../agent/tasks/task-context.ts';
import { readPackets } from '../support/probe.ts';
import { encodeTaskFor, formatNamed, planSource } from '../support/tasks/plan-source.ts';
import { makeTaskWorld, type TaskWorld } from '../support/tasks/task-world.ts';

let world: TaskWorld;
let grains: GrainReport[];

beforeEach(async () => {
  world = await makeTaskWorld();
  grains = [];
});
afterEach(() => world[Symbol.asyncDispose]());

const review = formatNamed('review-copy');
const av1: HouseFormat = { ...review, picture: { ...review.picture, codec: 'av1', preset: '10' } };
const h264: HouseFormat = { ...review, picture: { ...review.picture, codec: 'h264', preset: 'veryfast' } };

describe('a segment', () => {
  it.each([
    ['VC-3', formatNamed('edit-proxy')],
    ['x265', review],
    ['x265 10-bit', formatNamed('storage-copy')],
    ['x264', h264],
    ['SVT-AV1', av1],
    ['FFV1', formatNamed('lossless-master')],
  ])(
    'by %s becomes grains of one kind, also from a second process that begins in the middle',
    async (_, format) => {
      const source = await planSource(world, 'h264-mp4-open-gop', format);
      const middle = 4 * source.plan.grainFrames;
      await encode(encodeTaskFor(source, { first: 0, end: middle }, 1));
      await encode(encodeTaskFor(source, { first: middle, end: source.plan.frames }, 2));
      expect(grains.map((grain) => grain.index)).toEqual(grains.map((__, at) => at));
      expect(grains.reduce((sum, grain) => sum + grain.frames, 0)).toBe(source.plan.frames);
      expect(new Set(grains.map((grain) => grain.signature)).size).toBe(1);
      for (const [at, grain] of grains.slice(0, -1).entries())
        expect(grain.nextPicture).toBe(grains[at + 1]?.firstPicture);
      expect(grains.at(-1)?.nextPicture).toBeNull();
      const packets = await readPackets(join(world.granary, grains[5]?.file ?? ''));
      expect(packets[0]?.keyframe).toBe(true);
      expect(packets).toHaveLength(source.plan.grainFrames);
    },
  );

  it('ends well, and early, when its lease moves down while it runs', async () => {
    const source = await planSource(world, 'h264-mp4-closed-gop', formatNamed('edit-proxy'));
    const end = 3 * source.plan.grainFrames;
    const result = await encode(encodeTaskFor(source, { first: 0, end: source.plan.frames }), () => ({
      proceed: true,
      end,
    }));
    expect([result.frames, grains.length]).toEqual([end, 3]);
  });

  it('stops at once when the attempt no longer counts', async () => {
    const source = await planSource(world, 'h264-mp4-closed-gop', formatNamed('edit-proxy'));
    const ended = encode(encodeTaskFor(source, { first: 0, end: source.plan.frames }), () => {
      return { proceed: false, end: 0 };
    });
    await expect(ended).rejects.toMatchObject({ code: 'stale-attempt' });
    expect(grains.length).toBeLessThan(5);
  });
});

describe('a source that lies', () => {
  it('is found out when it has more or fewer pictures than were counted', async () => {
    const source = await planSource(world, 'h264-mp4-closed-gop', formatNamed('edit-proxy'));
    for (const frames of [source.plan.frames - 7, source.plan.frames + 7]) {
      const plan = { ...source.plan, frames };
      const task = encodeTaskFor({ ...source, plan }, { first: 5 * plan.grainFrames, end: frames });
      await expect(encode(task)).rejects.toMatchObject({ code: 'source-damaged' });
    }
  });

  it('is found out when it was replaced after it was inspected', async () => {
    const source = await planSource(world, 'three-seconds-mp4', formatNamed('edit-proxy'));
    const [name = ''] = await readdir(world.volume);
    await truncate(join(world.volume, name), source.facts.bytes - 1);
    await expect(encode(encodeTaskFor(source, { first: 0, end: source.plan.frames }))).rejects.toMatchObject({
      code: 'source-changed',
    });
  });

  it('is found out when a picture in the middle is gone: later ones come too early', async () => {
    const source = await planSource(world, 'mjpeg-avi', formatNamed('edit-proxy'));
    const rate = source.facts.picture.rate;
    // The facts of a film that runs a hair faster: after some grains the pictures are a whole frame off.
    const facts = {
      ...source.facts,
      picture: { ...source.facts.picture, rate: { num: rate.num * 101, den: rate.den * 100 } },
    };
    const task = {
      ...encodeTaskFor({ ...source, facts }, { first: 0, end: source.plan.frames }),
      rate: facts.picture.rate,
    };
    await expect(encode(task)).rejects.toMatchObject({ code: 'source-damaged' });
  });

  it('tells what failed when the encoder cannot work: command and decisive line (N9)', async () => {
    const source = await planSource(world, 'three-seconds-mp4', formatNamed('edit-proxy'));
    const tiny = { ...source.plan, picture: { ...source.plan.picture, width: 64, height: 36, scale: true } };
    const failed = encode(encodeTaskFor({ ...source, plan: tiny }, { first: 0, end: source.plan.frames }));
    await expect(failed).rejects.toMatchObject({
      code: 'encoder-failed',
      details: { command: expect.stringContaining('dnxhd'), line: expect.any(String) },
    });
  });

  it('never reads what a playlist in its place would name', async () => {
    const source = await planSource(world, 'three-seconds-mp4', formatNamed('edit-proxy'));
    const [name = ''] = await readdir(world.volume);
    await writeFile(
      join(world.volume, name),
      '#EXTM3U\n#EXTINF:1,\nfile:///etc/hostname\n'.padEnd(source.facts.bytes, '\n'),
    );
    const task = encodeTaskFor(source, { first: 0, end: source.plan.frames });
    const swapped = { ...task, source: { ...task.source, modifiedMs: Date.now() } };
    await expect(encode(swapped)).rejects.toMatchObject({ code: 'source-damaged' });
    expect(grains).toEqual([]);
  });
});

async function encode(task: EncodeTask, onGrain?: () => Lease) {
  const context: TaskContext = {
    ...world.context,
    scratch: join(world.root, `scratch-${task.attempt}`),
    report: {
      progress: async () => ({ proceed: true, end: task.range.end }),
      grain: async (grain) => {
        grains.push(grain);
        return onGrain?.() ?? { proceed: true, end: task.range.end };
      },
    },
  };
  return encodeSegment(task, context);
}
