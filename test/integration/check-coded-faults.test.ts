// Faults that only an encoder can make: each is caught by its check.
import { open, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { execa } from 'execa';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { CheckName, CheckResult } from '#shared/check.ts';
import type { CheckTask, GranaryFile } from '#shared/task.ts';
import { checkJoined } from '../../agent/tasks/check-joined.ts';
import { encodeSegment } from '../../agent/tasks/encode-segment.ts';
import { joinGrains } from '../../agent/tasks/join-grains.ts';
import { makeBadCopy } from '../support/tasks/bad-copies.ts';
import { type Film, makeFilm } from '../support/tasks/make-film.ts';
import { encodeTaskFor, formatNamed } from '../support/tasks/plan-source.ts';
import { makeRichSource } from '../support/tasks/rich-source.ts';
import { makeTaskWorld, type TaskWorld } from '../support/tasks/task-world.ts';

type Made = { readonly world: TaskWorld; readonly film: Film; readonly good: string };

async function make(format: string): Promise<Made> {
  const world = await makeTaskWorld();
  const film = await makeFilm(world, await makeRichSource(), formatNamed(format));
  const { file } = await joinGrains(film.joinTask, world.context);
  return { world, film, good: path.join(world.granary, file) };
}

async function check({ world, film }: Made, joined: GranaryFile, change: Partial<CheckTask> = {}) {
  const { checks } = await checkJoined({ ...film.checkTask(joined), ...change }, world.context);
  return (name: CheckName): CheckResult => {
    const result = checks.find((one) => one.name === name);
    if (result === undefined) throw new Error(`no check ${name}`);
    return result;
  };
}

const ffmpeg = (...args: string[]) =>
  execa('ffmpeg', ['-nostdin', '-loglevel', 'error', '-y', ...args], { timeout: 60_000 });

describe('a review copy', () => {
  let made: Made;
  beforeAll(async () => {
    made = await make('review-copy');
  });
  afterAll(() => made.world[Symbol.asyncDispose]());
  const scratch = (name: string) => path.join(made.world.root, name);

  it('with parameter sets inside the stream: one kind', async () => {
    // A transport stream carries them in the stream, and the way back leaves them there.
    await ffmpeg('-i', made.good, '-map', '0:v:0', '-c', 'copy', scratch('sets.ts'));
    await ffmpeg(
      '-i',
      scratch('sets.ts'),
      '-i',
      made.good,
      '-map',
      '0:v:0',
      '-map',
      '1:a',
      '-c',
      'copy',
      '-tag:v',
      'hvc1',
      '-movflags',
      '+faststart',
      scratch('sets.mp4'),
    );
    const of = await check(made, await made.world.keep(scratch('sets.mp4'), 'sets.mp4'));
    expect(of('one-kind')).toMatchObject({
      ok: false,
      measured: expect.stringContaining('parameter sets inside 4 packets'),
    });
  });

  it('named hev1: one kind', async () => {
    const of = await check(made, await makeBadCopy(made.world, made.good, { options: ['-tag:v', 'hev1'] }));
    expect(of('one-kind').measured).toContain('named hev1 where hvc1 is due');
  });

  it('encoded again with other keyframes: one kind, seams', async () => {
    const options = [
      '-c:v',
      'libx265',
      '-preset',
      'ultrafast',
      '-tag:v',
      'hvc1',
      '-x265-params',
      'keyint=45:min-keyint=45:scenecut=0:open-gop=0:info=0:log-level=none',
      '-video_track_timescale',
      '30000',
    ];
    const of = await check(made, await makeBadCopy(made.world, made.good, { options }));
    expect(of('one-kind')).toMatchObject({ ok: false, frames: [30, 45, 60] });
    expect(of('seams')).toMatchObject({ ok: false, frames: [30, 60] });
    expect(of('time').ok).toBe(true);
  });

  it('with one grain of another quality: refused by the join; forced, it is seen', async () => {
    const grain = made.film.joinTask.grains[2];
    const file = path.join(made.world.granary, grain?.file ?? '');
    const other = path.join(made.world.granary, 'other.mp4');
    await ffmpeg(
      '-i',
      file,
      '-c:v',
      'libx265',
      '-preset',
      'ultrafast',
      '-crf',
      '51',
      '-tag:v',
      'hvc1',
      '-x265-params',
      'keyint=30:min-keyint=30:scenecut=0:info=0:log-level=none',
      '-video_track_timescale',
      '30000',
      other,
    );
    const stored = await made.world.keep(other, 'other.mp4');
    const grains = made.film.joinTask.grains.with(2, { ...stored, frames: 30 });
    await expect(joinGrains({ ...made.film.joinTask, grains }, made.world.context)).rejects.toMatchObject({
      code: 'signature-mismatch',
      details: { grain: 2 },
    });

    const list = grains
      .map((one) => `file 'file:${path.join(made.world.granary, one.file)}'\nduration 1.001\n`)
      .join('');
    await writeFile(scratch('list'), `ffconcat version 1.0\n${list}`);
    await ffmpeg(
      '-f',
      'concat',
      '-safe',
      '0',
      '-i',
      scratch('list'),
      '-i',
      made.good,
      '-map',
      '0:v',
      '-map',
      '1:a',
      '-c',
      'copy',
      '-tag:v',
      'hvc1',
      '-movie_timescale',
      '240000',
      '-video_track_timescale',
      '30000',
      '-movflags',
      '+faststart',
      scratch('mixed.mp4'),
    );
    const of = await check(made, await made.world.keep(scratch('mixed.mp4'), 'mixed.mp4'));
    expect([of('likeness').ok, of('decodes').ok]).not.toEqual([true, true]);
  });

  it('with its sound encoded in pieces: length or offset', async () => {
    const pieces = [0, 1.3, 2.6].map((start, i) => ({
      start,
      end: [1.3, 2.6, 4][i] ?? 4,
      file: scratch(`piece${i}.m4a`),
    }));
    const source = path.join(made.world.volume, 'rich.mov');
    for (const { start, end, file } of pieces)
      await ffmpeg(
        '-i',
        source,
        '-map',
        '0:a:0',
        '-af',
        `atrim=${start}:${end},asetpts=PTS-STARTPTS`,
        '-c:a',
        'aac',
        '-b:a',
        '192k',
        file,
      );
    await writeFile(scratch('pieces'), pieces.map(({ file }) => `file '${file}'\n`).join(''));
    await ffmpeg('-f', 'concat', '-safe', '0', '-i', scratch('pieces'), '-c', 'copy', scratch('pieces.m4a'));
    await ffmpeg(
      '-i',
      made.good,
      '-i',
      scratch('pieces.m4a'),
      '-map',
      '0:v:0',
      '-map',
      '1:a',
      '-map',
      '0:a:1',
      '-c',
      'copy',
      '-tag:v',
      'hvc1',
      '-movflags',
      '+faststart',
      scratch('pieces.mp4'),
    );
    const of = await check(made, await made.world.keep(scratch('pieces.mp4'), 'pieces.mp4'));
    expect([of('sound-length').ok, of('sound-offset').ok]).not.toContain(true);
  });

  it('whose second segment began a picture late: seams', async () => {
    const seen: { firstPicture: string; nextPicture: string | null }[] = [];
    const task = encodeTaskFor(made.film, { first: 60, end: 90 }, 9);
    const frameTicks = 1001 * (task.track.timeBase.den / 30_000);
    const late = { ...task, track: { ...task.track, startTicks: task.track.startTicks + frameTicks } };
    await encodeSegment(late, {
      ...made.world.context,
      report: {
        progress: async () => ({ proceed: true, end: 90 }),
        grain: async (grain) => {
          seen.push(grain);
          return { proceed: true, end: 90 };
        },
      },
    });
    const good = made.film.checkTask(await made.world.keep(made.good, path.basename(made.good)));
    const grains = good.grains.map((grain) =>
      grain.first === 60 ? { ...grain, attempt: 9, ...pictures(seen[0]) } : grain,
    );
    const of = await check(made, good.joined, { grains });
    expect(of('seams')).toMatchObject({ ok: false, frames: [60, 90] });
  });
});

function pictures(seen: { firstPicture: string; nextPicture: string | null } | undefined) {
  if (seen === undefined) throw new Error('no grain was reported');
  return { firstPicture: seen.firstPicture, nextPicture: seen.nextPicture };
}

describe('a lossless master', () => {
  let made: Made;
  beforeAll(async () => {
    made = await make('lossless-master');
  });
  afterAll(() => made.world[Symbol.asyncDispose]());

  it('with a byte changed: its slice checksum (RFC 9043, slice_crc_parity) does not hold', async () => {
    const { file } = await makeBadCopy(made.world, made.good, { options: ['-map_metadata', '0'] });
    const local = path.join(made.world.granary, file);
    const handle = await open(local, 'r+');
    const { size } = await handle.stat();
    const byte = Buffer.alloc(1);
    await handle.read(byte, 0, 1, size >> 1);
    await handle.write(Buffer.from([(byte[0] ?? 0) ^ 0x55]), 0, 1, size >> 1);
    await handle.close();
    const of = await check(made, await made.world.keep(local, file));
    expect(of('decodes')).toMatchObject({ ok: false, measured: expect.stringContaining('CRC mismatch') });
  });

  it('with four samples of one picture changed: likeness, which names it', async () => {
    const drawn = 'drawbox=x=6:y=8:w=2:h=2:color=gray:t=fill:enable=eq(n\\,50)';
    const options = [
      '-vf',
      drawn,
      '-c:v',
      'ffv1',
      '-level',
      '3',
      '-slicecrc',
      '1',
      '-slices',
      '4',
      '-g',
      '1',
    ];
    const of = await check(made, await makeBadCopy(made.world, made.good, { options }));
    expect(of('likeness')).toMatchObject({
      ok: false,
      frames: [50],
      measured: "1 picture not the source's, the first at frame 50",
    });
    expect(of('decodes').ok).toBe(true);
  });
});
