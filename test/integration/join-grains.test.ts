// The join task on real grains, judged by readers that have nothing to do with ffmpeg: mp4box for the tables of
// ISO/IEC 14496-12, MediaInfo for the labels.
import { copyFile, mkdir, readFile, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { execa } from 'execa';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { HouseFormat } from '#shared/house-format.ts';
import { runJoin } from '../../agent/tasks/join/run-join.ts';
import { joinGrains } from '../../agent/tasks/join-grains.ts';
import { readMp4Tables } from '../support/media/mp4-tables.ts';
import { mediaInfoTracks } from '../support/media-info.ts';
import { type Film, makeFilm } from '../support/tasks/make-film.ts';
import { formatNamed } from '../support/tasks/plan-source.ts';
import { makeRichSource, richFrames } from '../support/tasks/rich-source.ts';
import { makeTaskWorld, type TaskWorld } from '../support/tasks/task-world.ts';

type Joined = {
  readonly world: TaskWorld;
  readonly film: Film;
  readonly file: string;
  readonly dropped: readonly string[];
};

async function makeJoined(format: HouseFormat): Promise<Joined> {
  const world = await makeTaskWorld();
  const film = await makeFilm(world, await makeRichSource(), format);
  const { file, dropped } = await joinGrains(film.joinTask, world.context);
  return { world, film, file: path.join(world.granary, file), dropped };
}

describe('the join into QuickTime', () => {
  let joined: Joined;
  beforeAll(async () => {
    joined = await makeJoined(formatNamed('edit-proxy'));
  });
  afterAll(() => joined.world[Symbol.asyncDispose]());

  it('puts frame k at exactly k / rate (ISO/IEC 14496-12: stts, ctts, elst)', async () => {
    const { picture } = await readMp4Tables(joined.file);
    expect(picture.presentation.map((ticks) => ticks / picture.timescale)).toEqual(
      Array.from({ length: richFrames }, (_, k) => (k * 1001) / 30_000),
    );
    expect(picture.durationTicks).toBe(richFrames * (picture.timescale / 30_000) * 1001);
  });

  it('writes one sample description, and sizes and offsets that fit the file', async () => {
    const { picture, fileBytes, mediaEnd } = await readMp4Tables(joined.file);
    expect(picture.descriptions).toEqual(['AVdh']);
    expect(mediaEnd).toBeLessThanOrEqual(fileBytes);
  });

  it('sets late sound off by an empty edit', async () => {
    const { sound, movieTimescale } = await readMp4Tables(joined.file);
    expect(sound.map((track) => track.emptyEdit / movieTimescale)).toEqual([0, 0.2]);
  });

  it('keeps timecode with its flag, languages, title, chapters and texts', async () => {
    const tracks = await mediaInfoTracks(joined.file);
    const all = (type: string, field: string) =>
      tracks.filter((track) => track['@type'] === type).map((track) => track[field]);
    // SMPTE ST 12-1: the semicolon is the drop-frame flag.
    expect(all('Other', 'TimeCode_FirstFrame')).toContain('00:59:58;02');
    expect(all('Audio', 'Language')).toEqual(['de', 'en']);
    expect(all('General', 'Title')).toEqual(['Die Nacht; ein Film = Test']);
    expect(all('Video', 'FrameRate')).toEqual([29.97]);
    // ITU-T H.273 code point 1.
    expect(all('Video', 'colour_primaries')).toEqual(['BT.709']);
  });

  it('says what QuickTime cannot hold', () => {
    expect(joined.dropped).toEqual(['QuickTime does not carry the tags director']);
  });
});

describe('the join into MP4', () => {
  let joined: Joined;
  beforeAll(async () => {
    joined = await makeJoined(formatNamed('review-copy'));
  });
  afterAll(() => joined.world[Symbol.asyncDispose]());

  it('puts frame k at exactly k / rate, through all reordering', async () => {
    const { picture } = await readMp4Tables(joined.file);
    expect(picture.presentation.toSorted((a, b) => a - b).map((ticks) => ticks / picture.timescale)).toEqual(
      Array.from({ length: richFrames }, (_, k) => (k * 1001) / 30_000),
    );
    expect(picture.decode).toEqual(picture.decode.toSorted((a, b) => a - b));
    expect(new Set(picture.decode).size).toBe(richFrames);
  });

  it('begins with the header, is named hvc1, and has its sync samples at the grains', async () => {
    const { picture, headerFirst } = await readMp4Tables(joined.file);
    expect(headerFirst).toBe(true);
    expect(picture.descriptions).toEqual(['hvc1']);
    expect(picture.sync).toEqual([0, 30, 60, 90]);
  });
});

describe('the room for the header', () => {
  it('is made by moving the media when it was kept too small', async () => {
    await using world = await makeTaskWorld();
    const { joinTask } = await makeFilm(world, await makeRichSource(), formatNamed('review-copy'));
    const { file } = await joinGrains(joinTask, world.context);
    const inScratch = (name: string) => path.join(world.context.scratch, name);
    const output = inScratch('again.mp4');
    const files = {
      script: inScratch('grains.ffconcat'),
      metadata: inScratch('film.ffmetadata'),
      sound: joinTask.sound.map((sound) => path.join(world.granary, sound.file)),
      ...{ output, headerRoom: 64 },
    };
    await runJoin(joinTask, files, world.context.signal);
    const [again, roomy] = await Promise.all([
      readMp4Tables(output),
      readMp4Tables(path.join(world.granary, file)),
    ]);
    expect(again.headerFirst).toBe(true);
    expect(again.picture).toEqual(roomy.picture);
    // What was kept free is still there in the other one: its room was enough.
    expect(again.fileBytes).toBeLessThan(roomy.fileBytes);
  });
});

describe('a join that cannot be right', () => {
  let joined: Joined;
  beforeAll(async () => {
    joined = await makeJoined(formatNamed('edit-proxy'));
  });
  afterAll(() => joined.world[Symbol.asyncDispose]());

  const inGranary = (name: string) => path.join(joined.world.granary, name);

  it('is refused when a byte of a grain has changed, and names the grain', async () => {
    const grain = joined.film.joinTask.grains[2];
    const file = inGranary(grain?.file ?? '');
    const bytes = await readFile(file);
    await writeFile(file, Buffer.from(bytes).fill((bytes[5000] ?? 0) ^ 1, 5000, 5001));
    await expect(joinGrains(joined.film.joinTask, joined.world.context)).rejects.toMatchObject({
      code: 'join-failed',
      details: { grain: 2 },
    });
    await writeFile(file, bytes);
  });

  it('is refused when a grain is of another kind: ffmpeg would join it without a word', async () => {
    const other = inGranary('other.mov');
    const [first] = joined.film.joinTask.grains;
    // The same pictures, another sample aspect.
    await execa('ffmpeg', [
      '-nostdin',
      '-loglevel',
      'error',
      '-y',
      '-i',
      inGranary(first?.file ?? ''),
      '-c',
      'copy',
      '-aspect',
      '4:3',
      '-video_track_timescale',
      '30000',
      other,
    ]);
    const stored = await joined.world.keep(other, 'other.mov');
    const grains = joined.film.joinTask.grains.with(3, { ...stored, frames: 30 });
    await expect(joinGrains({ ...joined.film.joinTask, grains }, joined.world.context)).rejects.toMatchObject(
      {
        code: 'signature-mismatch',
        details: { grain: 3 },
      },
    );
  });

  it('is refused when a grain holds another number of pictures than promised', async () => {
    const [first] = joined.film.joinTask.grains;
    if (first === undefined) throw new Error('no grain');
    const grains = joined.film.joinTask.grains.with(0, { ...first, frames: 29 });
    await expect(joinGrains({ ...joined.film.joinTask, grains }, joined.world.context)).rejects.toMatchObject(
      { code: 'join-failed', details: { grain: 0 } },
    );
  });

  it('is refused when grains or sound are missing', async () => {
    const { joinTask } = joined.film;
    await expect(
      joinGrains({ ...joinTask, grains: joinTask.grains.slice(1) }, joined.world.context),
    ).rejects.toMatchObject({ code: 'join-failed' });
    await expect(
      joinGrains({ ...joinTask, sound: joinTask.sound.slice(1) }, joined.world.context),
    ).rejects.toMatchObject({ code: 'join-failed' });
  });

  it('is refused when a grain is no film at all', async () => {
    const text = inGranary('text.mov');
    await writeFile(text, 'not a film');
    const stored = await joined.world.keep(text, 'text.mov');
    const grains = joined.film.joinTask.grains.with(1, { ...stored, frames: 30 });
    await expect(joinGrains({ ...joined.film.joinTask, grains }, joined.world.context)).rejects.toMatchObject(
      { code: 'join-failed', details: { grain: 1 } },
    );
  });

  it('works from folders with odd names', async () => {
    await using odd = await makeTaskWorld();
    const folder = path.join(odd.root, "it's [an] odd, name; = é");
    await mkdir(folder);
    for (const { file } of [...joined.film.joinTask.grains, ...joined.film.joinTask.sound])
      await copyFile(inGranary(file), path.join(folder, file));
    const context = {
      ...odd.context,
      granary: {
        ...odd.context.granary,
        open: async ({ file }: { file: string }) => path.join(folder, file),
      },
    };
    const result = await joinGrains(joined.film.joinTask, context);
    expect((await readMp4Tables(path.join(odd.granary, result.file))).picture.presentation).toHaveLength(
      richFrames,
    );
  });
});
