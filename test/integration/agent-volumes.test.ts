// The agent's view of its volumes on a real file system: nothing outside a volume is reached, by whatever link.
import { mkdir, readdir, symlink, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { beforeEach, describe, expect, test } from 'vitest';
import { openSource, prepareDestination, probeVolume } from '../../agent/tools/local-volumes.ts';
import { tempFolder } from '../support/temp-folder.ts';

let folder: string;
let roots: Record<string, string>;

beforeEach(async () => {
  folder = await tempFolder();
  roots = { rushes: join(folder, 'rushes'), absent: join(folder, 'absent') };
  await mkdir(join(folder, 'rushes', 'day 1'), { recursive: true });
  await mkdir(join(folder, 'private'));
  await writeFile(join(folder, 'private', 'secret.mov'), 'secret');
  await writeFile(join(folder, 'rushes', 'day 1', 'A001 ä.mov'), 'picture');
  await writeFile(join(folder, 'rushes', 'empty.mov'), '');
});

describe('a source', () => {
  test('is found below its volume', async () => {
    expect(await openSource(roots, 'rushes:day 1/A001 ä.mov')).toBe(
      join(folder, 'rushes', 'day 1', 'A001 ä.mov'),
    );
  });

  test('may be a link that stays inside', async () => {
    await symlink(join('day 1', 'A001 ä.mov'), join(folder, 'rushes', 'inside.mov'));
    expect(await openSource(roots, 'rushes:inside.mov')).toBe(join(folder, 'rushes', 'day 1', 'A001 ä.mov'));
  });

  test.each([
    ['rushes:nothing.mov', 'source-missing'],
    ['rushes:day 1', 'source-not-a-file'],
    ['rushes:empty.mov', 'source-empty'],
    ['share:a.mov', 'unknown-volume'],
    ['absent:a.mov', 'unknown-volume'],
    ['toString:a.mov', 'bad-request'],
    ['rushes:../private/secret.mov', 'outside-volume'],
    ['rushes:/etc/passwd', 'outside-volume'],
  ])('%s is refused as %s', async (volumePath, code) => {
    await expect(openSource(roots, volumePath)).rejects.toMatchObject({ code });
  });

  test('is not reached through a link that leads out, neither of the file nor of a folder', async () => {
    await symlink(join(folder, 'private', 'secret.mov'), join(folder, 'rushes', 'out.mov'));
    await symlink(join(folder, 'private'), join(folder, 'rushes', 'out'));
    await expect(openSource(roots, 'rushes:out.mov')).rejects.toMatchObject({ code: 'outside-volume' });
    await expect(openSource(roots, 'rushes:out/secret.mov')).rejects.toMatchObject({
      code: 'outside-volume',
    });
  });

  test('is found when the volume itself is mounted behind a link', async () => {
    await symlink(join(folder, 'rushes'), join(folder, 'mount'));
    const found = await openSource({ rushes: join(folder, 'mount') }, 'rushes:day 1/A001 ä.mov');
    expect(found).toBe(join(folder, 'rushes', 'day 1', 'A001 ä.mov'));
  });
});

describe('a destination', () => {
  test('has its folder made', async () => {
    expect(await prepareDestination(roots, 'rushes:proxies/day 2/A001.mov')).toBe(
      join(folder, 'rushes', 'proxies', 'day 2', 'A001.mov'),
    );
    expect(await readdir(join(folder, 'rushes', 'proxies', 'day 2'))).toEqual([]);
  });

  test('is not made behind a link that leads out, and nothing is left there', async () => {
    await symlink(join(folder, 'private'), join(folder, 'rushes', 'out'));
    await expect(prepareDestination(roots, 'rushes:out/new/A001.mov')).rejects.toMatchObject({
      code: 'outside-volume',
    });
    expect(await readdir(join(folder, 'private'))).toEqual(['secret.mov']);
  });

  test.each([
    ['rushes:.', 'bad-request'],
    ['rushes:empty.mov/A001.mov', 'destination-unwritable'],
    ['share:A001.mov', 'unknown-volume'],
    ['rushes:../A001.mov', 'outside-volume'],
  ])('%s is refused as %s', async (volumePath, code) => {
    await expect(prepareDestination(roots, volumePath)).rejects.toMatchObject({ code });
  });
});

describe('a volume', () => {
  test('is probed for what it allows', async () => {
    const [rushes = '', absent = ''] = [roots['rushes'], roots['absent']];
    expect(await probeVolume(rushes)).toEqual({ readable: true, writable: true });
    expect(await probeVolume(absent)).toEqual({ readable: false, writable: false });
  });
});
