// Disks that are full or can't be written, and a codec that no machine has: said before the work begins, not at its end.
import { chmod, mkdir, readFile, stat, writeFile } from 'node:fs/promises';
import { delimiter, join } from 'node:path';
import { execa } from 'execa';
import { describe, expect, test } from 'vitest';
import type { HouseFormat } from '#shared/house-format.ts';
import { sharedCalibration } from '../support/farm/farm.ts';
import { startFarm } from '../support/farm/lifetimes.ts';
import { canMount, enlarge, makeReadOnly, mountForTest } from '../support/farm/mounts.ts';
import { listFiles, placeSource } from '../support/farm/volumes.ts';
import { makeSource } from '../support/sources/make-source.ts';
import { tempFolder } from '../support/temp-folder.ts';

const agents = ['north'];
const formats = ['lossless-master'];
const mountable = await canMount();

describe.skipIf(!mountable)('a disk', () => {
  test('that is too small for the deliverable: held, and retry works when there is room (only on Linux as root)', async () => {
    const small = await mountForTest(2);
    const farm = await startFarm({ agents, formats, volumes: { small: small } });
    const { path } = await makeSource('h264-mp4-closed-gop');
    const source = await farm.addSource(path, 'film.mp4');
    const { id } = await farm.client.submit({ source, format: 'lossless-master', to: 'small:' });
    const held = await farm.waitFor(id);
    expect(held).toMatchObject({ state: 'held', segments: [], failures: [{ code: 'no-space' }] });
    expect(held.reason).toMatch(/destination has 2 MB free and .* need \d+ MB/);
    expect(await listFiles(small)).toEqual([]);

    await enlarge(small, 200);
    await farm.client.retry(id);
    expect(await farm.waitFor(id)).toMatchObject({ state: 'delivered' });
    expect(await listFiles(small)).toEqual(['film.mkv', 'film.mkv.report.json']);
  });

  test('that is too small for the pieces: held before a frame is encoded (only on Linux as root)', async () => {
    const small = await mountForTest(40);
    const farm = await startFarm({ agents, formats, dataFolder: small });
    const { path } = await makeSource('h264-mp4-closed-gop');
    const source = await farm.addSource(path, 'film.mp4');
    const { id } = await farm.client.submit({ source, format: 'lossless-master', to: 'share:' });
    const held = await farm.waitFor(id);
    expect(held).toMatchObject({ state: 'held', segments: [], failures: [{ code: 'no-space' }] });
    expect(held.reason).toMatch(/data folder has \d+ MB free and .* need \d+ MB/);
  });

  test('that cannot be written: refused (only on Linux as root)', async () => {
    const locked = await mountForTest(2);
    await makeReadOnly(locked);
    const farm = await startFarm({ agents, formats, volumes: { locked: locked } });
    const { path } = await makeSource('three-seconds-mp4');
    const source = await farm.addSource(path, 'film.mp4');
    expect(await farm.client.refusalOf({ source, format: 'lossless-master', to: 'locked:' })).toMatchObject({
      type: 'urn:nightmill:problem:destination-unwritable',
      status: 422,
    });
  });

  test('that holds a source and cannot be written is as good as any (only on Linux as root)', async () => {
    const card = await mountForTest(20);
    const { path } = await makeSource('three-seconds-mp4');
    await placeSource(path, card, 'film.mp4');
    await makeReadOnly(card);
    const farm = await startFarm({ agents, formats, volumes: { card: card } });
    const { id } = await farm.client.submit({
      source: 'card:film.mp4',
      format: 'lossless-master',
      to: 'share:',
    });
    expect(await farm.waitFor(id)).toMatchObject({ state: 'delivered' });
  });
});

test.skipIf(process.platform === 'win32')(
  'a codec that no machine can encode: refused (only on systems with shell scripts)',
  async () => {
    const folder = await tempFolder();
    const farm = await startFarm({
      agents,
      formats,
      formatsFolder: await writeAv1Format(folder),
      environment: { PATH: await withoutAv1(folder) },
      calibration: await calibrationWithoutAv1(folder),
    });
    const { path } = await makeSource('three-seconds-mp4');
    const source = await farm.addSource(path, 'film.mp4');
    const isTried = async () => {
      const lane = (await farm.client.machines())
        .flatMap((machine) => machine.lanes)
        .find(({ encoder }) => encoder === 'libsvtav1');
      return lane?.proven === false && /Unknown encoder/.test(lane.reason ?? '');
    };
    await farm.changes.until('the lane was tried', isTried, 60_000);
    const refusal = await farm.client.refusalOf({ source, format: 'small-copy', to: 'share:' });
    expect(refusal).toMatchObject({ type: 'urn:nightmill:problem:no-lane', status: 422 });
    expect(refusal.detail).toContain('av1');
  },
);

const smallCopy: HouseFormat = {
  name: 'small-copy',
  version: 1,
  title: 'Small copy in AV1',
  wrapper: 'mp4',
  picture: {
    codec: 'av1',
    pixelFormat: 'yuv420p10le',
    quality: 40,
    preset: '10',
    size: 'source',
    rate: 'source',
    interlace: 'deinterlace',
    hdr: 'keep',
    gopSeconds: 2,
  },
  sound: { codec: 'aac' },
  grainSeconds: 4,
  namePattern: '{stem}',
  damagedSource: 'refuse',
  checks: { likenessFloor: 0.7, seamDrop: 0.1, lossless: false },
  report: 'ledger',
};

async function writeAv1Format(folder: string): Promise<string> {
  const formatsFolder = join(folder, 'formats');
  await mkdir(formatsFolder);
  await writeFile(join(formatsFolder, 'small-copy.json'), JSON.stringify(smallCopy));
  return formatsFolder;
}

/** A PATH whose ffmpeg was built without one encoder, as some systems' are. */
async function withoutAv1(folder: string): Promise<string> {
  const bin = join(folder, 'bin');
  await mkdir(bin);
  const { stdout: real } = await execa('sh', ['-c', 'command -v ffmpeg']);
  const refuse = `case " $* " in *" libsvtav1 "*) echo "Unknown encoder 'libsvtav1'" >&2; exit 1;; esac`;
  await writeFile(join(bin, 'ffmpeg'), `#!/bin/sh\n${refuse}\nexec '${real}' "$@"\n`);
  await chmod(join(bin, 'ffmpeg'), 0o755);
  return [bin, process.env['PATH'] ?? ''].join(delimiter);
}

/** What was measured of this machine, as if that encoder had never been tried: the rest need not be tried again. */
async function calibrationWithoutAv1(folder: string): Promise<string> {
  const known = join(sharedCalibration, 'calibration.json');
  const copy = join(folder, 'calibration');
  await mkdir(copy);
  if (!(await stat(known).catch(() => null))) return copy;
  const { proofs, ...rest } = JSON.parse(await readFile(known, 'utf8')) as {
    proofs: Record<string, unknown>;
  };
  const others = Object.entries(proofs).filter(([key]) => !key.startsWith('libsvtav1|'));
  await writeFile(
    join(copy, 'calibration.json'),
    JSON.stringify({ ...rest, proofs: Object.fromEntries(others) }),
  );
  return copy;
}
