// Which Redis, and which redis-server program, we work with.
import { once } from 'node:events';
import { chmod, writeFile } from 'node:fs/promises';
import { type AddressInfo, createServer } from 'node:net';
import { delimiter, join } from 'node:path';
import { Redis } from 'ioredis';
import { afterAll, beforeAll, describe, expect, it, onTestFinished, vi } from 'vitest';
import { checkRedis, isTooOld, redisUrl } from '../../coordinator/dispatch/redis-ask.ts';
import { readKeepsake } from '../../coordinator/dispatch/redis-keepsake.ts';
import { findRedisProgram } from '../../coordinator/dispatch/redis-program.ts';
import { startRedisServer } from '../../coordinator/dispatch/redis-server.ts';
import { startRedis, type TestRedis } from '../support/redis.ts';
import { tempFolder } from '../support/temp-folder.ts';

describe('a Redis that is given', () => {
  let redis: TestRedis;
  beforeAll(async () => {
    redis = await startRedis();
  });
  afterAll(() => redis.stop());

  it('is taken when it is new enough and keeps what it is given', async () => {
    await expect(checkRedis(redis.url)).resolves.toEqual([]);
  });

  it('is refused when nothing listens there, with the place but without the password', async () => {
    const error = await checkRedis('redis://:secret@127.0.0.1:1').catch((thrown: unknown) => thrown);
    expect(error).toMatchObject({ code: 'bad-config', message: expect.stringContaining('127.0.0.1:1 ') });
    expect(String(error)).toContain('ECONNREFUSED');
    expect(String(error)).not.toContain('secret');
  });

  it('is refused when something else listens there', async () => {
    const mute = createServer().listen(0, '127.0.0.1');
    await once(mute, 'listening');
    onTestFinished(() => void mute.close());
    const { port } = mute.address() as AddressInfo;
    await expect(checkRedis(`redis://127.0.0.1:${port}`, 300)).rejects.toMatchObject({
      code: 'bad-config',
      message: expect.stringContaining('no answer within 0.3 s'),
    });
  });
});

describe('a private Redis', () => {
  it('is refused with a wrong password', async () => {
    const { port } = await start(await tempFolder());
    const wrong = redisUrl({ host: '127.0.0.1', port, password: 'wrong' });
    await expect(checkRedis(wrong)).rejects.toMatchObject({ message: expect.stringContaining('WRONGPASS') });
  });

  it('is taken with a warning when it may drop what it is given', async () => {
    const folder = await tempFolder();
    const { url, port } = await start(folder);
    const password = (await readKeepsake(folder))?.keeperPassword ?? '';
    const keeper = new Redis(redisUrl({ host: '127.0.0.1', port, user: 'keeper', password }));
    onTestFinished(() => keeper.disconnect());
    await keeper.config('SET', 'maxmemory-policy', 'allkeys-lru');
    await expect(checkRedis(url)).resolves.toEqual([expect.stringContaining('maxmemory-policy allkeys-lru')]);
  });
});

describe('the redis-server program', () => {
  it('is found on this machine', async () => {
    await expect(findRedisProgram()).resolves.toMatchObject({ args: expect.arrayContaining(['-']) });
  });

  it('is missed with advice what to do', async () => {
    vi.stubEnv('PATH', await tempFolder());
    onTestFinished(() => void vi.unstubAllEnvs());
    await expect(findRedisProgram()).rejects.toMatchObject({
      code: 'missing-tool',
      message: expect.stringContaining('--redis URL'),
    });
  });

  it.skipIf(process.platform === 'win32')('is refused when it is too old', async () => {
    const folder = await tempFolder();
    const file = join(folder, 'redis-server');
    await writeFile(
      file,
      '#!/bin/sh\necho "Redis server v=5.0.14 sha=00000000:0 malloc=libc bits=64 build=0"\n',
    );
    await chmod(file, 0o755);
    vi.stubEnv('PATH', `${folder}${delimiter}${process.env['PATH']}`);
    onTestFinished(() => void vi.unstubAllEnvs());
    await expect(findRedisProgram()).rejects.toMatchObject({
      message: expect.stringContaining('is version 5.0.14'),
    });
  });
});

it.each([
  ['5.0.14', true],
  ['6.0.20', true],
  ['6.2.0', false],
  ['7.0.15', false],
  ['10.0.0', false],
  ['', true],
])('version %j is too old: %s', (version, tooOld) => {
  expect(isTooOld(version)).toBe(tooOld);
});

async function start(folder: string) {
  const server = await startRedisServer({
    folder,
    bind: '127.0.0.1',
    log: { warn: () => {}, error: () => {} },
  });
  onTestFinished(() => server.stop());
  return server;
}
