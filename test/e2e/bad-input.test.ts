// What nobody should hand in, and what can't be delivered: each gets a reason in one sentence, nothing half-written is
// left, no script makes anyone read what it names, and the farm goes on working.
import { mkdir, mkdtemp, readFile, realpath, rm, symlink, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { basename, join, relative } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { type ErrorCode, errorKinds } from '#shared/errors.ts';
import type { JobDetail } from '#shared/job.ts';
import { makeBadInputs } from '../support/bad-inputs.ts';
import { farmOfSuite } from '../support/farm/lifetimes.ts';
import { listFiles } from '../support/farm/volumes.ts';
import { pictureHashes } from '../support/probe.ts';
import { makeSource } from '../support/sources/make-source.ts';
import { badFiles, oddNames, scripts, setAccessBack, wasRead } from './bad-input/bad-files.ts';

const folder = await mkdtemp(join(await realpath(tmpdir()), 'nightmill-bad-'));
const bad = await makeBadInputs(folder);
afterAll(() => rm(folder, { recursive: true }));
const farm = farmOfSuite({
  agents: ['north'],
  formats: ['edit-proxy', 'lossless-master'],
  volumes: { bad: bad.volume },
});

const good = { format: 'edit-proxy', to: 'share:' } as const;
const film = 'three-seconds-mp4';

describe('a submission that cannot be', () => {
  test.each([
    ['a source that is not there', { source: 'rushes:nothing.mov' }, 'source-missing'],
    ['a volume that is not there', { source: 'attic:nothing.mov' }, 'unknown-volume'],
    ['a volume called like something of the language', { source: 'constructor:a.mov' }, 'unknown-volume'],
    ['a path that climbs out', { source: 'rushes:../share/x.mov' }, 'bad-request'],
    ['a path that climbs out inside', { source: 'rushes:day/../../x.mov' }, 'bad-request'],
    ['a path from the root', { source: 'rushes:/etc/passwd' }, 'bad-request'],
    ['a path with a NUL', { source: 'rushes:a\0.mov' }, 'bad-request'],
    ['no volume path', { source: 'A001.mov' }, 'bad-request'],
    ['a key that nobody knows', { colour: 'blue' }, 'bad-request'],
    ['a house format that is not there', { format: 'no-such-format' }, 'unknown-format'],
    ['a destination that climbs out', { to: 'share:../elsewhere' }, 'outside-volume'],
    ['a destination on no volume', { to: 'attic:' }, 'unknown-volume'],
  ] as const)('%s', async (_, changes, code) => {
    const source = await placeFilm('good.mp4');
    await expectRefusal({ source, ...good, ...changes }, code);
  });

  test.each([
    ['directory', 'source-not-a-file'],
    ['empty', 'source-empty'],
    ['pipe', 'source-not-a-file'],
    ['link-outside', 'outside-volume'],
    ['link-dangling', 'source-missing'],
  ] as const)('%s as a source', async (name, code) => {
    await expectRefusal({ source: badSource(name), ...good }, code);
  });

  test('a source in a folder that is a link out of its volume', async () => {
    await symlink(folder, join(farm().rushes, 'way-out'));
    await expectRefusal({ source: `rushes:way-out/${basename(bad.outsidePath)}`, ...good }, 'outside-volume');
  });

  test('a destination whose folder is a link out of its volume', async () => {
    const source = await placeFilm('good.mp4');
    const elsewhere = join(farm().folder, 'elsewhere');
    await mkdir(elsewhere);
    await symlink(elsewhere, join(farm().rushes, 'elsewhere'));
    await expectRefusal({ source, ...good, to: 'rushes:elsewhere' }, 'outside-volume');
    expect(await listFiles(elsewhere)).toEqual([]);
  });

  test('a name that is taken', async () => {
    const source = await placeFilm('taken.mp4');
    const path = await farm().putOnShare('taken.mov', 'somebody else’s');
    await expectRefusal({ source, ...good }, 'destination-exists');
    expect(await readFile(path, 'utf8')).toBe('somebody else’s');
  });

  test('a name whose report is taken', async () => {
    const source = await placeFilm('reported.mp4');
    await farm().putOnShare('reported.mkv.report.json', '{}');
    await expectRefusal({ source, format: 'lossless-master', to: 'share:' }, 'destination-exists');
  });

  test('a folder that is a file', async () => {
    const source = await placeFilm('good.mp4');
    await farm().putOnShare('a-file', 'no folder');
    await expectRefusal({ source, ...good, to: 'share:a-file' }, 'destination-unwritable');
    await expectRefusal({ source, ...good, to: 'share:a-file/below' }, 'destination-unwritable');
  });
});

describe.concurrent('what is no whole film', () => {
  test.each([
    ['text', 'not-media'],
    ['playlist', 'not-media'],
    ['script', 'not-media'],
    ['truncated-faststart', 'source-truncated'],
    ['truncated-matroska', 'source-truncated'],
    ['truncated-headerless', 'source-truncated'],
    ['damaged', 'source-damaged'],
    ['encrypted', 'not-media'],
    ['no-tracks', 'no-picture'],
    ['sound-only', 'no-picture'],
    ['still', 'not-media'],
    ['huge-still', 'not-media'],
  ])('%s: %s', async (name, code) => {
    const { id } = await farm().client.submit({
      source: badSource(name),
      format: 'edit-proxy',
      to: 'share:bad',
    });
    expectReason(await farm().waitFor(id), code);
  });

  test.each(badFiles)('$name: $code', async ({ name, make, code }) => {
    await make(join(farm().rushes, name));
    const { id } = await farm().client.submit({
      source: `rushes:${name}`,
      format: 'lossless-master',
      to: 'share:bad',
    });
    expectReason(await farm().waitFor(id), code);
  });
});

describe.concurrent('a script that names a film', () => {
  test.each(Object.keys(scripts))('%s: nobody reads the film', async (name) => {
    const named = join(farm().folder, `named-by-${name}.mp4`);
    await writeFile(named, await readFile((await makeSource(film)).path));
    await setAccessBack(named);
    await writeFile(join(farm().rushes, name), scripts[name]?.(named) ?? '');
    const { id } = await farm().client.submit({
      source: `rushes:${name}`,
      format: 'edit-proxy',
      // Two of them have one stem, and would want one name there.
      to: `share:scripts/${name}`,
    });
    expectReason(await farm().waitFor(id), 'not-media');
    expect(await wasRead(named)).toBe(false);
  });

  test('a reading would show (only on systems that keep access times)', async ({ skip }) => {
    const path = join(farm().folder, 'read-by-us.mp4');
    await writeFile(path, 'text');
    await setAccessBack(path);
    await readFile(path);
    skip(!(await wasRead(path)), 'this system keeps no access times');
    expect(await wasRead(path)).toBe(true);
  });
});

describe.concurrent('a whole film with a name that could be taken for something else', () => {
  const known = bad.inputs.filter((input) => input.wholeFilm && input.name.startsWith('name-'));
  const names = [...known.map(({ path }) => basename(path)), ...oddNames];
  test.each(names.map((name) => ({ name, shown: JSON.stringify(name.slice(0, 40)) })))(
    '$shown',
    async ({ name }) => {
      const source = await placeFilm(name);
      const { id } = await farm().client.submit({ source, format: 'edit-proxy', to: 'share:odd names' });
      const job = await farm().waitFor(id);
      expect(job, job.reason ?? '').toMatchObject({ state: 'delivered', source });
      expect(farm().deliverablePath(job)).toBe(join(farm().share, 'odd names', `${name.slice(0, -4)}.mov`));
      expect(await pictureHashes(farm().deliverablePath(job))).toHaveLength(75);
    },
  );

  test('one whose report would have too long a name', async () => {
    const source = await placeFilm(`${'r'.repeat(251)}.mp4`);
    await expectRefusal({ source, format: 'lossless-master', to: 'share:' }, 'bad-request');
  });
});

test('after all that, the farm is well', async () => {
  const source = await placeFilm('last.mp4');
  const { id } = await farm().client.submit({ source, ...good });
  expect(await farm().waitFor(id)).toMatchObject({ state: 'delivered', reason: null });
  expect(await listFiles(join(farm().share, 'bad'))).toEqual([]);
});

async function placeFilm(name: string): Promise<string> {
  const path = join(farm().rushes, name);
  await writeFile(path, await readFile((await makeSource(film)).path));
  return `rushes:${name}`;
}

function badSource(name: string): string {
  const input = bad.inputs.find((one) => one.name === name);
  if (input === undefined) throw new Error(`no such input: ${name}`);
  return `bad:${relative(bad.volume, input.path)}`;
}

/** RFC 9457: a problem document with a stable type, the status that belongs to it, and one sentence for this case. */
async function expectRefusal(submission: unknown, code: ErrorCode): Promise<void> {
  const refusal = await farm().client.refusalOf(submission);
  expect(refusal).toMatchObject({
    contentType: 'application/problem+json',
    type: `urn:nightmill:problem:${code}`,
    status: errorKinds[code].httpStatus,
    title: errorKinds[code].title,
  });
  expectSentence(refusal.detail);
}

function expectReason(job: JobDetail, code: string): void {
  expect(job, job.reason ?? '').toMatchObject({ state: 'failed' });
  expect(job.failures.at(-1)?.code, job.reason ?? '').toBe(code);
  expectSentence(job.reason ?? '');
}

/** One line that a person can read at a glance, and no inner workings. */
function expectSentence(text: string): void {
  expect(text).toMatch(/^[^\n]{20,600}$/);
  expect(text).not.toMatch(/\bat \S+:\d+:\d+|undefined|\[object|node:internal/);
}
