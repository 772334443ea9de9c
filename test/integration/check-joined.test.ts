// The check task on good films of all four house formats: everything holds, and says what it measured.
import path from 'node:path';
import { execa } from 'execa';
import { describe, expect, it } from 'vitest';
import { checkNames } from '#shared/check.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import { checkJoined } from '../../agent/tasks/check-joined.ts';
import { joinGrains } from '../../agent/tasks/join-grains.ts';
import { makeSource } from '../support/sources/make-source.ts';
import { makeFilm } from '../support/tasks/make-film.ts';
import { formatNamed } from '../support/tasks/plan-source.ts';
import { makeRichSource } from '../support/tasks/rich-source.ts';
import { makeTaskWorld } from '../support/tasks/task-world.ts';

async function checksOf(source: string, format: HouseFormat) {
  await using world = await makeTaskWorld();
  const film = await makeFilm(world, source, format);
  const { kind: _, dropped: __, ...joined } = await joinGrains(film.joinTask, world.context);
  const { checks } = await checkJoined(film.checkTask(joined), world.context);
  return checks;
}

describe('a good film', () => {
  it.each(['edit-proxy', 'review-copy', 'storage-copy', 'lossless-master'])(
    'passes every check as %s',
    async (format) => {
      const checks = await checksOf(await makeRichSource(), formatNamed(format));
      expect(checks.filter((check) => !check.ok)).toEqual([]);
      expect(checks.map((check) => check.name).toSorted()).toEqual(
        checkNames.filter((name) => name !== 'bytes').toSorted(),
      );
    },
  );

  it.each(['edit-proxy', 'review-copy', 'lossless-master'] as const)(
    'passes as %s when its sound begins before the picture',
    async (format) => {
      const source = await makeSource('sound-early-mov');
      const checks = await checksOf(source.path, formatNamed(format));
      expect(checks.filter((check) => !check.ok)).toEqual([]);
    },
  );

  it('passes without sound, and says so', async () => {
    const source = await makeSource('no-sound-mp4');
    const checks = await checksOf(source.path, formatNamed('review-copy'));
    expect(checks.filter((check) => !check.ok)).toEqual([]);
    expect(checks.filter((check) => check.measured === 'no sound track')).toHaveLength(4);
  });

  it('passes with sound whose codec needs a frame of preparation, in Matroska, which cannot hide it', async () => {
    const checks = await checksOf(await makeRichSource(), { ...formatNamed('review-copy'), wrapper: 'mkv' });
    expect(checks.filter((check) => !check.ok)).toEqual([]);
  });

  it('passes with HDR data, for which x265 repeats its parameter sets', async () => {
    const source = await makeSource('hevc-mp4-hdr10');
    const checks = await checksOf(source.path, formatNamed('storage-copy'));
    expect(checks.filter((check) => !check.ok)).toEqual([]);
  });

  it('is compared in full range as it is', async () => {
    await using folder = await makeTaskWorld();
    const source = path.join(folder.root, 'full.mp4');
    const drawn =
      'testsrc2=size=320x180:rate=25,trim=end_frame=50,noise=alls=4:allf=t:all_seed=3,scale=out_range=pc,format=yuvj420p';
    const encode = ['-c:v', 'libx264', '-preset', 'veryfast', '-crf', '18', '-g', '25', '-color_range', 'pc'];
    await execa('ffmpeg', ['-nostdin', '-loglevel', 'error', '-f', 'lavfi', '-i', drawn, ...encode, source]);
    const checks = await checksOf(source, formatNamed('review-copy'));
    expect(checks.filter((check) => !check.ok)).toEqual([]);
    // Squeezed on one side, the same pictures score less than 0.94.
    const likeness = checks.find((check) => check.name === 'likeness')?.measured ?? '';
    expect(Number(/^at least (\d\.\d+)/.exec(likeness)?.[1])).toBeGreaterThan(0.94);
  });
});
