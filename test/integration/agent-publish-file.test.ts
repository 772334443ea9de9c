// Files that appear complete under their final name, also on another file system; and one holder of a name at a time.
import { existsSync } from 'node:fs';
import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { holdName, waitForName } from '../../agent/tools/hold-name.ts';
import { moveFile, writeWhole } from '../../agent/tools/publish-file.ts';
import { makeScratch, sweepScratch } from '../../agent/tools/scratch.ts';
import { tempFolder } from '../support/temp-folder.ts';

test('a file moves into a folder that is not there yet, replacing what has its name', async () => {
  const folder = await tempFolder();
  for (const text of ['first', 'second']) {
    await writeFile(join(folder, 'grain'), text);
    await moveFile(join(folder, 'grain'), join(folder, 'a', 'b', 'grain'));
  }
  expect(await readFile(join(folder, 'a', 'b', 'grain'), 'utf8')).toBe('second');
  expect(await readdir(folder)).toEqual(['a']);
});

test('a file moves to another file system', async () => {
  const folder = await tempFolder();
  // Memory is a file system of its own on Linux; a system without it has one place only, where moving must work as well.
  const elsewhere = existsSync('/dev/shm') ? await mkdtemp('/dev/shm/mill-') : join(folder, 'elsewhere');
  try {
    await writeFile(join(folder, 'grain'), 'pictures');
    await moveFile(join(folder, 'grain'), join(elsewhere, 'job', 'grain'));
    expect(await readFile(join(elsewhere, 'job', 'grain'), 'utf8')).toBe('pictures');
    expect(await readdir(join(elsewhere, 'job'))).toEqual(['grain']);
    expect(existsSync(join(folder, 'grain'))).toBe(false);
  } finally {
    await rm(elsewhere, { recursive: true });
  }
});

test('a small file is written whole, and no part of it is left beside it', async () => {
  const folder = await tempFolder();
  await writeWhole(join(folder, 'new', 'id'), 'one');
  await writeWhole(join(folder, 'new', 'id'), 'two');
  expect(await readFile(join(folder, 'new', 'id'), 'utf8')).toBe('two');
  expect(await readdir(join(folder, 'new'))).toEqual(['id']);
});

test('a name has one holder, and is free again when that lets go', async () => {
  const folder = await tempFolder();
  const first = await holdName(folder);
  expect(first).not.toBeNull();
  expect(await holdName(folder)).toBeNull();
  const waiting = waitForName(folder, 10_000, new AbortController().signal);
  await first?.[Symbol.asyncDispose]();
  await using second = await waiting;
  expect(second).not.toBeNull();
});

test('a scratch folder starts empty and removes itself; sweeping removes what was left', async () => {
  const folder = await tempFolder();
  {
    await using scratch = await makeScratch(folder, 'j1-a1');
    await writeFile(join(scratch.path, 'grain'), 'x');
    await using again = await makeScratch(folder, 'j1-a1');
    expect(await readdir(again.path)).toEqual([]);
  }
  expect(await readdir(folder)).toEqual([]);
  await makeScratch(folder, 'j2-a1');
  expect(await sweepScratch(folder)).toBe(1);
  expect(await readdir(folder)).toEqual([]);
});
