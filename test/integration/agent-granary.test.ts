// The granary as an attempt sees it: moved into the folder where that is proven, sent over HTTP elsewhere, and HTTP again
// when the folder fails.
import { mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { openGranary } from '../../agent/link/granary.ts';
import { hashFile } from '../../agent/tools/hash-file.ts';
import { type StandIn, startStandIn } from '../support/coordinator-stand-in.ts';
import { type RecordedLog, recordLog } from '../support/recorded-log.ts';
import { tempFolder } from '../support/temp-folder.ts';

let folder: string;
let standIn: StandIn;
let log: RecordedLog;
let staleReason: string | null;

beforeEach(async () => {
  folder = await tempFolder();
  standIn = await startStandIn({ redisUrl: '/nowhere', granary: join(folder, 'granary') });
  await mkdir(join(folder, 'scratch'));
  log = recordLog();
  staleReason = null;
});

afterEach(async () => {
  await standIn[Symbol.asyncDispose]();
});

const bytes = Buffer.from('a grain of pictures');
/** XXH128 of the empty input, from the reference program `xxhsum -H2`. */
const emptyHash = '99aa06d3014798d86001c324468d497f';

describe('storing', () => {
  test('moves the file into the folder under the name of its attempt', async () => {
    const file = await makeFile('000001.mov');
    const stored = await granaryIn(join(folder, 'granary')).store(file, '000001.mov');
    expect(stored).toMatchObject({ file: 'j0000000001/a3-000001.mov', bytes: bytes.length });
    expect(await readFile(join(folder, 'granary', stored.file))).toEqual(bytes);
    expect(await readdir(join(folder, 'scratch'))).toEqual([]);
    expect(standIn.uploads).toEqual([]);
  });

  test('sends the file where the folder is not seen, with its length and hash', async () => {
    const stored = await granaryIn(null).store(await makeFile('000001.mov'), '000001.mov');
    expect(standIn.uploads).toEqual([stored]);
    expect(stored.hash).toEqual((await hashFile(join(folder, 'granary', stored.file))).hash);
  });

  test('sends the file when the folder has gone away', async () => {
    const gone = join(folder, 'scratch', 'a-file');
    await writeFile(gone, 'a folder can not be made below this');
    const stored = await granaryIn(gone).store(await makeFile('000001.mov'), '000001.mov');
    expect(standIn.uploads).toEqual([stored]);
    expect(log.lines).toContainEqual(expect.objectContaining({ level: 'warn', file: stored.file }));
  });

  test('goes on trying while the coordinator does not answer', async () => {
    standIn.behaviour.failWith = 503;
    const storing = granaryIn(null).store(await makeFile('000001.mov'), '000001.mov');
    await expect.poll(() => standIn.authorizations.length).toBeGreaterThan(1);
    standIn.behaviour.failWith = null;
    expect(await storing).toMatchObject({ bytes: bytes.length });
  });

  test('ends with the attempt when that no longer counts', async () => {
    standIn.behaviour.stale.add('j0000000001/3');
    const storing = granaryIn(null).store(await makeFile('000001.mov'), '000001.mov');
    await expect(storing).rejects.toMatchObject({ code: 'stale-attempt' });
    expect(staleReason).toBe('this attempt no longer counts');
  });

  test('tells that the coordinator has no space', async () => {
    standIn.behaviour.failWith = 507;
    const storing = granaryIn(null).store(await makeFile('000001.mov'), '000001.mov');
    await expect(storing).rejects.toMatchObject({ code: 'no-space' });
  });

  test.each(['../000001.mov', 'a/../../b.mov', '/etc/passwd', '', '.hidden'])(
    'refuses the name %j',
    async (name) => {
      const granary = granaryIn(join(folder, 'granary'));
      await expect(granary.store(await makeFile('000001.mov'), name)).rejects.toMatchObject({
        code: 'bad-request',
      });
    },
  );

  test('hashes as the reference program does', async () => {
    const file = join(folder, 'scratch', 'empty');
    await writeFile(file, '');
    expect(await hashFile(file)).toEqual({ bytes: 0, hash: { algorithm: 'xxh128', hex: emptyHash } });
  });
});

describe('opening', () => {
  const file = 'j0000000001/a1-000000.mov';
  const hash = { algorithm: 'xxh128', hex: emptyHash } as const;

  beforeEach(async () => {
    await mkdir(join(folder, 'granary', 'j0000000001'));
    await writeFile(join(folder, 'granary', file), bytes);
  });

  test('gives the path in the folder', async () => {
    const open = granaryIn(join(folder, 'granary')).open({ file, bytes: bytes.length, hash });
    expect(await open).toBe(join(folder, 'granary', file));
  });

  test('fetches the file where the folder is not seen', async () => {
    const local = await granaryIn(null).open({ file, bytes: bytes.length, hash });
    expect(local.startsWith(join(folder, 'scratch'))).toBe(true);
    expect(await readFile(local)).toEqual(bytes);
  });

  test('fetches the file when the folder does not show it yet', async () => {
    const elsewhere = join(folder, 'another');
    await mkdir(elsewhere);
    expect(await readFile(await granaryIn(elsewhere).open({ file, bytes: bytes.length, hash }))).toEqual(
      bytes,
    );
  });

  test('tells a file of another size than recorded', async () => {
    const open = granaryIn(join(folder, 'granary')).open({ file, bytes: bytes.length + 1, hash });
    await expect(open).rejects.toThrow(/has 19 bytes in the granary, recorded were 20/);
  });

  test('tells a file that is not there', async () => {
    const open = granaryIn(null).open({ file: 'j0000000001/a1-000009.mov', bytes: 1, hash });
    await expect(open).rejects.toThrow(/does not give j0000000001\/a1-000009\.mov/);
  });

  test('refuses a path that climbs out', async () => {
    const open = granaryIn(join(folder, 'granary')).open({ file: 'j1/../../secret', bytes: 1, hash });
    await expect(open).rejects.toMatchObject({ code: 'bad-request' });
  });
});

function granaryIn(seen: string | null) {
  return openGranary({
    coordinator: { baseUrl: new URL(standIn.url), token: null },
    jobId: 'j0000000001',
    attempt: 3,
    folder: () => seen,
    scratch: join(folder, 'scratch'),
    signal: new AbortController().signal,
    onStale: (reason) => {
      staleReason = reason;
    },
    log,
  });
}

async function makeFile(name: string): Promise<string> {
  const file = join(folder, 'scratch', name);
  await writeFile(file, bytes);
  return file;
}
