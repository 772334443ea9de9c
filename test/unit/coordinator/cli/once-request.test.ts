// What `once` refuses before anything is started, and how it names the folders of this machine.
import { mkdir, symlink, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { parseVolumePath } from '#shared/volume-path.ts';
import { checkOnceRequest } from '../../../../coordinator/cli/once/once-request.ts';
import { tempFolder } from '../../../support/temp-folder.ts';

async function world() {
  const folder = await tempFolder();
  for (const name of ['a', 'b', 'out']) await mkdir(join(folder, name));
  const put = async (name: string) => {
    await writeFile(join(folder, name), 'pictures');
    return join(folder, name);
  };
  const check = (sources: string[], changes: { format?: string; to?: string } = {}) =>
    checkOnceRequest(sources, { format: 'edit-proxy', to: join(folder, 'out'), agents: 1, ...changes });
  return { folder, put, check };
}

const wrong = (message: string) =>
  expect.objectContaining({ exitCode: 2, message: expect.stringContaining(message) });

test('sources of several folders each get a volume, equal folders share one', async () => {
  const { folder, put, check } = await world();
  const request = await check([await put('a/A001.mov'), await put('a/A002.mov'), await put('b/B001.mov')]);
  const [first, second, third] = request.sources.map((source) => source.volume);
  expect(first).toEqual({ name: expect.stringMatching(/^src-[0-9a-f]{12}$/), root: join(folder, 'a') });
  expect(second).toEqual(first);
  expect(third?.root).toBe(join(folder, 'b'));
  expect(request.sources[0]?.volumePath).toBe(`${first?.name}:A001.mov`);
  expect(request.to).toBe(`${request.destination.name}:`);
  expect(request.dataFolder).toBeNull();
});

test('a destination that is not there yet is a path below the folder that is', async () => {
  const { folder, put, check } = await world();
  const request = await check([await put('a/A001.mov')], { to: join(folder, 'out/day03/proxies') });
  expect(request.destination.root).toBe(join(folder, 'out'));
  expect(request.to).toBe(`${request.destination.name}:day03/proxies`);
});

const oddNames = [
  'with spaces  and "quotes" \'too\'.mov',
  'two\nlines.mov',
  '編集 – ünïcödé 🎬.mov',
  '-format.mov',
  'a:b|c;d$(e)`f`*?.mov',
  String.raw`back\slash.mov`,
  `${'x'.repeat(251)}.mov`,
  '.hidden',
  'no-extension',
];

test.skipIf(process.platform === 'win32').each(oddNames)('the name %j is a name', async (name) => {
  const { put, check } = await world();
  const [source] = (await check([await put(`a/${name}`)])).sources;
  expect(parseVolumePath(source?.volumePath ?? '').path).toBe(name);
});

test('a link that leads out of its folder keeps its own name', async () => {
  const { folder, put, check } = await world();
  await put('b/X.mov');
  await symlink(join(folder, 'b/X.mov'), join(folder, 'a/A001.mov'));
  const [source] = (await check([join(folder, 'a/A001.mov')])).sources;
  expect(source).toMatchObject({ path: join(folder, 'a/A001.mov'), volume: { root: folder } });
  expect(source?.volumePath.split(':')[1]).toBe('a/A001.mov');
});

test('what is wrong is told in one sentence', async () => {
  const { folder, put, check } = await world();
  const source = await put('a/A001.mov');
  await expect(check([join(folder, 'a/none.mov')])).rejects.toEqual(wrong('none.mov is not there'));
  await expect(check([join(folder, 'a')])).rejects.toEqual(wrong('is not a file'));
  await expect(check([source], { format: 'betamax' })).rejects.toEqual(
    wrong('there is no house format betamax; there are edit-proxy'),
  );
  await expect(check([source], { to: source })).rejects.toEqual(wrong('is not a folder'));
  await expect(check([source], { to: join(source, 'below') })).rejects.toEqual(wrong('is not a folder'));
  await expect(check([source, source])).rejects.toEqual(wrong('is named twice'));
});

test('two sources that would have one deliverable are refused', async () => {
  const { folder, put, check } = await world();
  const pair = [await put('a/A001.mov'), await put('b/A001.mp4')];
  await expect(check(pair)).rejects.toEqual(wrong(`would both become ${join(folder, 'out/A001.mov')}`));
});
