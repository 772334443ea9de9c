// Our own Redis: who gets in, what it keeps, and that there is one and only one, whatever dies.

import { once } from 'node:events';
import { open, readdir, stat } from 'node:fs/promises';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import type { Readable } from 'node:stream';
import { execa } from 'execa';
import { Redis } from 'ioredis';
import { expect, it, onTestFinished, vi } from 'vitest';
import { redisUrl } from '../../coordinator/dispatch/redis-ask.ts';
import { newPassword, readKeepsake, writeKeepsake } from '../../coordinator/dispatch/redis-keepsake.ts';
import { startRedisProcess } from '../../coordinator/dispatch/redis-process.ts';
import { type RedisServer, startRedisServer } from '../../coordinator/dispatch/redis-server.ts';
import { tempFolder } from '../support/temp-folder.ts';

const onLinux = process.platform === 'linux';

it('lets in who has the password, and only to commands that queues need', async () => {
  const server = await start(await tempFolder());
  const redis = connect(server.url);
  await expect(redis.set('a', '1')).resolves.toBe('OK');
  const dangerous = ['CONFIG GET dir', 'SHUTDOWN', 'FLUSHALL', 'KEYS *', 'REPLICAOF 127.0.0.1 1', 'ACL LIST'];
  for (const line of dangerous) {
    const [command = '', ...args] = line.split(' ');
    await expect(redis.call(command, ...args)).rejects.toThrow('NOPERM');
  }
  const stranger = connect(`redis://127.0.0.1:${server.port}`);
  await expect(stranger.set('a', '2')).rejects.toThrow('NOAUTH');
});

it('is reached under the name that an agent used', async () => {
  const server = await start(await tempFolder());
  const url = server.urlFor('localhost');
  expect(new URL(url).host).toBe(`localhost:${server.port}`);
  await expect(connect(url).ping()).resolves.toBe('PONG');
  expect(new URL(server.urlFor('fd00::5')).hostname).toBe('[fd00::5]');
});

it.runIf(onLinux)(
  'shows its password neither in the list of processes nor to others in the folder',
  async () => {
    const folder = await tempFolder();
    await start(folder);
    const { pid, password } = await keepsakeOf(folder);
    const { stdout } = await execa('ps', ['-o', 'args=', '-p', String(pid)]);
    expect(stdout).toContain('redis-server');
    expect(stdout).not.toContain(password);
    expect((await stat(join(folder, 'server.json'))).mode & 0o077).toBe(0);
  },
);

it('keeps its data, port and password from one start to the next', async () => {
  const folder = await tempFolder();
  const first = await start(folder);
  await connect(first.url).set('kept', 'yes');
  await first.stop();
  const second = await start(folder);
  expect(second.url).toBe(first.url);
  await expect(connect(second.url).get('kept')).resolves.toBe('yes');
});

it('takes another port when its own is taken', async () => {
  const folder = await tempFolder();
  const first = await start(folder);
  await first.stop();
  const other = createServer().listen(first.port, '127.0.0.1');
  await once(other, 'listening');
  onTestFinished(() => void other.close());
  const second = await start(folder);
  expect(second.port).not.toBe(first.port);
  await expect(connect(second.url).ping()).resolves.toBe('PONG');
});

it('comes back in the same place when it dies', async () => {
  const folder = await tempFolder();
  const server = await start(folder);
  const { pid } = await keepsakeOf(folder);
  process.kill(pid, 'SIGKILL');
  await vi.waitFor(async () => expect((await keepsakeOf(folder)).pid).not.toBe(pid), { timeout: 20_000 });
  await expect(connect(server.url).ping()).resolves.toBe('PONG');
});

it('ends one that outlived its coordinator, and goes on with its data', async () => {
  const folder = await tempFolder();
  const leftover = await startLeftover(folder);
  await connect(leftover.url).set('kept', 'yes');
  const server = await start(folder);
  expect(isAlive(leftover.pid)).toBe(false);
  await expect(connect(server.url).get('kept')).resolves.toBe('yes');
});

it.runIf(onLinux)('ends one that outlived its coordinator and no longer answers', async () => {
  const folder = await tempFolder();
  const leftover = await startLeftover(folder);
  process.kill(leftover.pid, 'SIGSTOP');
  const server = await start(folder);
  await expect(connect(server.url).ping()).resolves.toBe('PONG');
  expect(isAlive(leftover.pid)).toBe(false);
});

it('leaves a process alone that merely has the number of an earlier one', async () => {
  const folder = await tempFolder();
  const bystander = execa(process.execPath, ['-e', 'process.stdin.resume()'], { reject: false });
  onTestFinished(() => void bystander.kill());
  const passwords = { password: newPassword(), keeperPassword: newPassword() };
  await writeKeepsake(folder, { port: 1, pid: bystander.pid ?? 0, ...passwords });
  await start(folder);
  expect(isAlive(bystander.pid ?? 0)).toBe(true);
});

it.runIf(onLinux)('does not outlive a coordinator that is killed', async () => {
  const program = join(import.meta.dirname, '../support/programs/run-redis.ts');
  const coordinator = execa(process.execPath, [program, await tempFolder()], {
    reject: false,
    buffer: false,
  });
  const pid = Number(await firstLine(coordinator.stdout));
  expect(isAlive(pid)).toBe(true);
  coordinator.kill('SIGKILL');
  await vi.waitFor(() => expect(isAlive(pid)).toBe(false), { timeout: 20_000 });
});

it('sets damaged data aside and starts empty', async () => {
  const folder = await tempFolder();
  const first = await start(folder);
  await connect(first.url).set('a', 'x'.repeat(1000));
  await first.stop();
  const file = await spoilData(folder);
  const second = await start(folder);
  await expect(connect(second.url).get('a')).resolves.toBeNull();
  expect(await readdir(folder)).toContain(`${file.split('/')[0]}.damaged`);
});

it('says in its own words why it does not start', async () => {
  const config = {
    folder: '/nowhere/at/all',
    bind: '127.0.0.1',
    port: 1,
    password: 'a',
    keeperPassword: 'b',
  };
  await expect(startRedisProcess({ file: 'redis-server', args: ['-'] }, config)).rejects.toMatchObject({
    code: 'internal',
    message: expect.stringContaining(`'dir "/nowhere/at/all"' No such file or directory`),
  });
});

it('refuses an address that is not this machine’s', async () => {
  // RFC 5737: 192.0.2.0/24 is for documentation, no machine has it.
  const starting = startRedisServer({ folder: await tempFolder(), bind: '192.0.2.1', log: quiet });
  await expect(starting).rejects.toMatchObject({
    code: 'bad-config',
    message: expect.stringContaining('192.0.2.1'),
  });
});

const quiet = { warn: () => {}, error: () => {} };

async function start(folder: string): Promise<RedisServer> {
  const server = await startRedisServer({ folder, bind: '127.0.0.1', log: quiet });
  onTestFinished(() => server.stop());
  return server;
}

/** As a coordinator leaves it that was killed where nothing ties the two together. */
async function startLeftover(folder: string): Promise<{ pid: number; url: string }> {
  const earlier = await startRedisServer({ folder, bind: '127.0.0.1', log: quiet });
  await earlier.stop();
  const keepsake = await keepsakeOf(folder);
  const redis = await startRedisProcess(
    { file: 'redis-server', args: ['-'] },
    { folder, bind: '127.0.0.1', ...keepsake },
  );
  await writeKeepsake(folder, { ...keepsake, pid: redis.pid });
  onTestFinished(() => void (isAlive(redis.pid) && process.kill(redis.pid, 'SIGKILL')));
  return { pid: redis.pid, url: redisUrl({ host: '127.0.0.1', ...keepsake }) };
}

function connect(url: string): Redis {
  const redis = new Redis(url, { maxRetriesPerRequest: 1 });
  redis.on('error', () => {});
  onTestFinished(() => redis.disconnect());
  return redis;
}

async function keepsakeOf(folder: string) {
  const keepsake = await readKeepsake(folder);
  return keepsake ?? expect.unreachable('there is no keepsake');
}

/** Overwrites the middle of the append-only file. */
async function spoilData(folder: string): Promise<string> {
  const files = await readdir(folder, { recursive: true });
  const file = files.find((name) => name.endsWith('.incr.aof') || name === 'appendonly.aof');
  if (file === undefined) return expect.unreachable('there is no append-only file');
  const handle = await open(join(folder, file), 'r+');
  await handle.write(Buffer.alloc(40, '?'), 0, 40, 10);
  await handle.close();
  return file;
}

async function firstLine(output: Readable): Promise<string> {
  const [line] = await once(createInterface(output), 'line');
  return String(line);
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch {
    return false;
  }
}
