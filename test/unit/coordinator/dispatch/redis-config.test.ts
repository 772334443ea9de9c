// redis.conf as the documentation at https://redis.io/docs/latest/operate/oss_and_stack/management/config/ reads it.
import { createHash } from 'node:crypto';
import { expect, it } from 'vitest';
import { writeRedisConfig } from '../../../../coordinator/dispatch/redis-config.ts';

const config = {
  folder: '/data/redis',
  bind: '127.0.0.1',
  port: 7000,
  password: 'open',
  keeperPassword: 'shut',
};
const lines = (changes: Partial<typeof config> = {}) =>
  writeRedisConfig({ ...config, ...changes }).split('\n');

it('keeps everything on disk and drops nothing for want of memory', () => {
  expect(lines()).toEqual(
    expect.arrayContaining(['appendonly yes', 'appendfsync everysec', 'maxmemory-policy noeviction']),
  );
});

it('holds hashes of passwords, never a password', () => {
  const hash = createHash('sha256').update('open').digest('hex');
  expect(lines()).toContainEqual(expect.stringContaining(`user default on #${hash} `));
  expect(lines().join('\n')).not.toMatch(/open|shut/);
});

it.each([
  ['127.0.0.1', 'bind 127.0.0.1'],
  ['localhost', 'bind 127.0.0.1'],
  ['192.168.1.5', 'bind 127.0.0.1 192.168.1.5'],
  ['fd00::5', 'bind 127.0.0.1 fd00::5'],
  ['0.0.0.0', 'bind 0.0.0.0'],
  ['::', 'bind * -::*'],
])('serves loopback and %s', (bind, line) => {
  expect(lines({ bind })).toContain(line);
});

it('takes no address that would be another directive', () => {
  expect(() => lines({ bind: '127.0.0.1\nrequirepass ""' })).toThrow(
    expect.objectContaining({ code: 'bad-config' }),
  );
});

it.each([
  ['/data/with space', 'dir "/data/with space"'],
  ['/data/"quoted"', String.raw`dir "/data/\"quoted\""`],
  ['/data/line\nport 1', String.raw`dir "/data/line\nport 1"`],
  ['/data/\u0007', String.raw`dir "/data/\x07"`],
  ['/data/Grün', 'dir "/data/Grün"'],
])('quotes the folder %j', (folder, line) => {
  expect(lines({ folder })).toContain(line);
});
