// A studio's own house formats: which version counts, and which files are refused.
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { builtInFormats } from '#shared/house-formats.ts';
import { readHouseFormats } from '../../../../coordinator/config/house-formats-folder.ts';

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'formats-'));
});
afterEach(() => rm(folder, { recursive: true }));

const [editProxy] = builtInFormats;

const put = (name: string, changes: Record<string, unknown>) =>
  writeFile(join(folder, name), JSON.stringify({ ...editProxy, ...changes }));

async function versionsOf(): Promise<Record<string, number>> {
  const { formats, problems } = await readHouseFormats(folder);
  expect(problems).toEqual([]);
  return Object.fromEntries(formats.map((format) => [format.name, format.version]));
}

test('adds formats to the built-in ones and takes the newest version of each', async () => {
  await put('a.json', { name: 'dailies', version: 3 });
  await put('b.yaml', { name: 'dailies', version: 7 });
  await put('c.yml', { name: 'edit-proxy', version: 2 });
  await writeFile(join(folder, 'notes.txt'), 'not a format');
  expect(await versionsOf()).toEqual({
    'edit-proxy': 2,
    'review-copy': 1,
    'storage-copy': 1,
    'lossless-master': 1,
    dailies: 7,
  });
});

test('refuses to replace a built-in format by the same version', async () => {
  await put('mine.json', { name: 'edit-proxy', version: 1 });
  const { problems } = await readHouseFormats(folder);
  expect(problems).toEqual([
    `${join(folder, 'mine.json')}: version: edit-proxy is built in as version 1; expected a higher one`,
  ]);
});

test('refuses two files of the same name and version', async () => {
  await put('a.json', { name: 'dailies', version: 3 });
  await put('b.json', { name: 'dailies', version: 3 });
  const { problems } = await readHouseFormats(folder);
  expect(problems).toEqual([
    `${join(folder, 'b.json')}: version: ${join(folder, 'a.json')} is dailies@3 already; expected another version`,
  ]);
});

test('names file, line and key of what is wrong in a format', async () => {
  await writeFile(join(folder, 'a.yaml'), 'name: dailies\nversion: 1\nwrapper: avi\n');
  const { problems } = await readHouseFormats(folder);
  expect(problems).toContainEqual(
    expect.stringContaining(`${join(folder, 'a.yaml')}:3: wrapper: expected one of "mov"|"mp4"|"mkv"`),
  );
});

test('tells that the folder is missing', async () => {
  const { problems } = await readHouseFormats(join(folder, 'none'));
  expect(problems).toEqual([expect.stringContaining('is no folder that can be read')]);
});
