// Several test workers ask for the same source at once; it must be made once, and appear whole.
import { spawnSync } from 'node:child_process';
import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { execa } from 'execa';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { makeFileOnce } from '../support/sources/make-file-once.ts';

let folder: string;

beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'nightmill-once-'));
});

afterEach(() => rm(folder, { recursive: true, force: true }));

it('makes a file once for many callers', async () => {
  const path = join(folder, 'film.mp4');
  let made = 0;
  const make = async (draftPath: string) => {
    made += 1;
    await writeFile(draftPath, 'picture');
  };
  await Promise.all(Array.from({ length: 8 }, () => makeFileOnce(path, make)));
  await makeFileOnce(path, make);
  expect(made).toBe(1);
  expect(await readFile(path, 'utf8')).toBe('picture');
});

it('makes a file once for several processes', async () => {
  const module = new URL('../support/sources/make-file-once.ts', import.meta.url).href;
  const program = `
    import { appendFile, writeFile } from 'node:fs/promises';
    import { makeFileOnce } from ${JSON.stringify(module)};
    await makeFileOnce('film.mp4', async (draftPath) => {
      await appendFile('made', 'x');
      await writeFile(draftPath, 'picture');
    });`;
  const runs = Array.from({ length: 4 }, () =>
    execa(process.execPath, ['--input-type=module', '--eval', program], { cwd: folder, timeout: 60_000 }),
  );
  await Promise.all(runs);
  expect(await readFile(join(folder, 'made'), 'utf8')).toBe('x');
  expect((await readdir(folder)).toSorted()).toEqual(['film.mp4', 'made']);
});

it('leaves nothing of a failed try, and tries again', async () => {
  const path = join(folder, 'film.mp4');
  const failing = makeFileOnce(path, async (draftPath) => {
    await writeFile(draftPath, 'half');
    throw new Error('no encoder');
  });
  await expect(failing).rejects.toThrow('no encoder');
  expect(await readdir(folder)).toEqual([]);
  await makeFileOnce(path, (draftPath) => writeFile(draftPath, 'picture'));
  expect(await readdir(folder)).toEqual(['film.mp4']);
});

it('takes over from a process that died', async () => {
  const { pid } = spawnSync(process.execPath, ['--eval', '0']);
  await writeFile(join(folder, 'film.mp4.lock'), String(pid));
  await makeFileOnce(join(folder, 'film.mp4'), (draftPath) => writeFile(draftPath, 'picture'));
  expect(await readdir(folder)).toEqual(['film.mp4']);
});
