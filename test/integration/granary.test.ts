// The granary on a real disk: what is stored is complete, stays, and nothing outside is touched.
import { mkdir, readdir, readFile, rm, symlink, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { xxhash128 } from 'hash-wasm';
import { describe, expect, it } from 'vitest';
import { type Granary, openGranary } from '../../coordinator/dispatch/granary.ts';
import type { GranaryUpload } from '../../coordinator/dispatch/granary-upload.ts';
import { sweepLatecomers } from '../../coordinator/dispatch/sweep.ts';
import type { JobRecord } from '../../coordinator/state/job-record.ts';
import { sampleFailure } from '../support/job-builders.ts';
import { storyUpTo, tell } from '../support/job-story.ts';
import { tempFolder } from '../support/temp-folder.ts';

const jobId = 'jsample001';

describe('receiving', () => {
  it('stores a file that came in pieces', async () => {
    const granary = await open();
    const upload = await uploadOf(['one ', 'two ', 'three']);
    const file = await granary.receive(upload);
    expect(file).toEqual({
      file: 'jsample001/a1-grain.mov',
      bytes: 13,
      hash: { algorithm: 'xxh128', hex: await xxhash128('one two three') },
    });
    expect(await readFile(await granary.pathOf(file.file), 'utf8')).toBe('one two three');
    await expect(granary.verify(file)).resolves.toBeUndefined();
  });

  it.each([
    ['is short', { bytes: 6 }, 'arrived with 5 of the 6 bytes announced'],
    ['is long', { bytes: 4 }, 'arrived with more bytes than the 4 bytes announced'],
    ['changed on the way', { xxh128: '0'.repeat(32) }, 'its hash is not the one announced'],
    ['has another place in its name', { name: '../x' }, 'is no name for a granary file'],
    ['is of a job that can’t be', { jobId: '../jsample001' }, 'is no name for a granary file'],
  ])('refuses a file that %s, and leaves nothing behind', async (_, changes, message) => {
    const granary = await open();
    const receiving = granary.receive({ ...(await uploadOf(['hello'])), ...changes });
    await expect(receiving).rejects.toMatchObject({
      code: 'bad-request',
      message: expect.stringContaining(message),
    });
    expect(await filesIn(granary)).toEqual(['mark.txt']);
  });

  it('leaves nothing behind when the sender goes away', async () => {
    const granary = await open();
    const body = ReadableStream.from(
      (async function* () {
        yield new TextEncoder().encode('hel');
        throw new Error('the connection broke');
      })(),
    );
    await expect(granary.receive({ ...(await uploadOf(['hello'])), body })).rejects.toThrow(
      'the connection broke',
    );
    expect(await filesIn(granary)).toEqual(['mark.txt']);
  });

  it('takes the same file again, but never another in its place', async () => {
    const granary = await open();
    const first = await granary.receive(await uploadOf(['hello']));
    await expect(granary.receive(await uploadOf(['hello']))).resolves.toEqual(first);
    await expect(granary.receive(await uploadOf(['jello']))).rejects.toMatchObject({
      code: 'destination-exists',
    });
    expect(await readFile(await granary.pathOf(first.file), 'utf8')).toBe('hello');
    expect(await filesIn(granary)).toEqual([first.file, 'mark.txt']);
  });
});

describe('looking', () => {
  it('finds out that a file is shorter than reported, or missing', async () => {
    const granary = await open();
    const file = await granary.receive(await uploadOf(['hello']));
    const longer = granary.verify({ ...file, bytes: 6 });
    await expect(longer).rejects.toMatchObject({
      code: 'bad-request',
      message: expect.stringContaining('has 5 bytes'),
    });
    const missing = granary.verify({ ...file, file: 'jsample001/a2-grain.mov' });
    await expect(missing).rejects.toMatchObject({
      message: expect.stringContaining('is not in the granary'),
    });
  });

  it('follows no link out of the granary', async () => {
    const [granary, outside] = [await open(), await tempFolder()];
    await writeFile(join(outside, 'a1-secret'), 'secret');
    await mkdir(join(granary.path, 'jsample001'));
    await symlink(join(outside, 'a1-secret'), join(granary.path, 'jsample001/a1-secret'));
    await symlink(outside, join(granary.path, 'jsample002'), 'junction');
    for (const file of ['jsample001/a1-secret', 'jsample002/a1-secret', '../a1-secret', 'mark.txt']) {
      await expect(granary.pathOf(file)).rejects.toMatchObject({ code: 'not-found' });
    }
  });

  it('tells how much is free', async () => {
    expect(await (await open()).freeBytes()).toBeGreaterThan(0);
  });
});

describe('sweeping', () => {
  it('removes the files named, and no others', async () => {
    const granary = await open();
    const [one, other] = [await store(granary, { name: 'one' }), await store(granary, { name: 'other' })];
    await granary.removeFiles([
      one,
      { file: 'jsample001/a9-none' },
      { file: '../mark.txt' },
      { file: 'mark.txt' },
    ]);
    expect(await filesIn(granary)).toEqual([other.file, 'mark.txt']);
  });

  it('removes a job with all its files, and no other job', async () => {
    const granary = await open();
    await store(granary, { name: 'one' });
    const other = await store(granary, { jobId: 'jsample002' });
    await granary.sweepJob(jobId);
    await granary.sweepJob('jmissing01');
    expect(await filesIn(granary)).toEqual([other.file, 'mark.txt']);
    await expect(granary.sweepJob('../jsample002')).rejects.toThrow('Invalid');
  });

  it('removes a link in a job’s place, not what it leads to', async () => {
    const [granary, outside] = [await open(), await tempFolder()];
    await writeFile(join(outside, 'precious'), '');
    await symlink(outside, join(granary.path, jobId), 'junction');
    await granary.sweepJob(jobId);
    expect(await readdir(outside)).toEqual(['precious']);
    expect(await filesIn(granary)).toEqual(['mark.txt']);
  });

  it('at the start removes what no job needs, and leaves what isn’t a job’s', async () => {
    const granary = await open();
    const kept = await store(granary, { name: 'kept' });
    const underWay = await store(granary, { name: 'under-way', attempt: 7 });
    await store(granary, { name: 'orphan' });
    await store(granary, { jobId: 'junknown01' });
    await writeFile(join(granary.path, jobId, '.draft-of-a-killed-upload'), '');
    await mkdir(join(granary.path, 'someone else'));
    await writeFile(join(granary.path, 'someone else', 'file'), '');
    await granary.sweepOrphans((id) => ({
      files: new Set(id === jobId ? [kept.file] : []),
      attempts: new Set(id === jobId ? [7] : []),
    }));
    expect(await filesIn(granary)).toEqual([kept.file, underWay.file, 'mark.txt', 'someone else/file']);
    expect(await readdir(granary.path)).not.toContain('junknown01');
  });
});

describe('what lands after its job has ended', () => {
  it('is removed; what belongs to a job that goes on or waits for a person, or to none, stays', async () => {
    const granary = await open();
    await store(granary, { name: 'late' });
    const stay = [
      await store(granary, { jobId: 'jworking01' }),
      await store(granary, { jobId: 'jheld00001' }),
      await store(granary, { jobId: 'junknown01' }),
    ];
    const reason = sampleFailure();
    const jobs: Readonly<Record<string, JobRecord>> = {
      [jobId]: tell(storyUpTo('delivered')),
      jworking01: tell(storyUpTo('encoding')),
      jheld00001: tell([...storyUpTo('encoding'), { type: 'held', reason }]),
    };
    await sweepLatecomers({ get: (id) => jobs[id] ?? null }, granary);
    expect(await filesIn(granary)).toEqual([...stay.map(({ file }) => file), 'mark.txt'].toSorted());
  });
});

describe('opening', () => {
  it('makes a mark that stays, and that no other granary has', async () => {
    const folder = await tempFolder();
    const [first, other] = [await openGranary(folder), await open()];
    expect(await readFile(join(first.path, first.markFile), 'utf8')).toBe(first.markText);
    expect((await openGranary(folder)).markText).toBe(first.markText);
    expect(other.markText).not.toBe(first.markText);
    await rm(join(folder, first.markFile));
    expect((await openGranary(folder)).markText).not.toBe(first.markText);
  });

  it('refuses a folder that can’t be one', async () => {
    const file = join(await tempFolder(), 'file');
    await writeFile(file, '');
    await expect(openGranary(join(file, 'granary'))).rejects.toMatchObject({ code: 'bad-config' });
  });
});

async function open(): Promise<Granary> {
  return openGranary(join(await tempFolder(), 'granary'));
}

async function store(granary: Granary, changes: Partial<GranaryUpload>) {
  return granary.receive({ ...(await uploadOf(['hello'])), ...changes });
}

async function uploadOf(pieces: string[]): Promise<GranaryUpload> {
  const text = pieces.join('');
  return {
    jobId,
    attempt: 1,
    name: 'grain.mov',
    bytes: Buffer.byteLength(text),
    xxh128: await xxhash128(text),
    body: ReadableStream.from(pieces.map((piece) => new TextEncoder().encode(piece))),
  };
}

/** Every file below the granary, `/` between, in order. */
async function filesIn(granary: Granary): Promise<string[]> {
  const entries = await readdir(granary.path, { recursive: true, withFileTypes: true });
  const files = entries.filter((entry) => !entry.isDirectory());
  return files
    .map((entry) =>
      join(entry.parentPath, entry.name)
        .slice(granary.path.length + 1)
        .replaceAll('\\', '/'),
    )
    .toSorted();
}
