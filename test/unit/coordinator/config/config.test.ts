// The configuration as a person writes it: what is taken, what is refused, and how precisely the refusal points.
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { homedir, tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { loadConfig } from '../../../../coordinator/config.ts';

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'config-'));
});
afterEach(() => rm(folder, { recursive: true }));

async function write(name: string, text: string): Promise<string> {
  const file = join(folder, name);
  await writeFile(file, text);
  return file;
}

const load = (file: string | null, environment: Record<string, string> = {}, options = {}) =>
  loadConfig({ file, environment, options });

async function problemsOf(loading: Promise<unknown>): Promise<string[]> {
  const error = await loading.then(
    () => expect.fail('the configuration was taken'),
    (thrown: unknown) => thrown,
  );
  expect(error).toMatchObject({ name: 'MillError', code: 'bad-config' });
  return [...(error as { details: { problems: string[] } }).details.problems];
}

test('works on one machine without any setting', async () => {
  const config = await load(null);
  expect(config).toMatchObject({
    listen: { host: '127.0.0.1', port: 7311 },
    redisUrl: null,
    volumes: { home: homedir() },
    token: null,
    agents: { heartbeatSeconds: 2, lostAfterSeconds: 10 },
    helperAgent: true,
  });
  expect(config.formats.map((format) => format.name)).toContain('edit-proxy');
  expect(Object.isFrozen(config.agents)).toBe(true);
});

test('reads YAML and JSON alike', async () => {
  const yaml = await write('a.yaml', 'listen:\n  port: 8000\nvolumes:\n  rushes: /mnt/rushes\n');
  const json = await write('a.json', '{"listen": {"port": 8000}, "volumes": {"rushes": "/mnt/rushes"}}');
  expect(await load(yaml)).toEqual(await load(json));
});

test('takes an empty file for one without settings', async () => {
  expect(await load(await write('empty.yaml', '# nothing yet\n'))).toEqual(await load(null));
});

test('names key, line and what was expected, all at once', async () => {
  const file = await write(
    'bad.yaml',
    [
      'listen:',
      '  prot: 1',
      'agents:',
      '  heartbeatSeconds: soon',
      'volumes:',
      '  Rushes: /mnt/rushes',
      'helperAgnt: true',
    ].join('\n'),
  );
  const problems = await problemsOf(load(file));
  expect(problems).toEqual(
    expect.arrayContaining([
      `${file}:2: listen.prot: there is no such key; expected one of host, port`,
      `${file}:4: agents.heartbeatSeconds: expected number, received string`,
      expect.stringContaining(`${file}:6: volumes.Rushes: a volume name has 1 to 32 small letters`),
      expect.stringMatching(/:7: helperAgnt: there is no such key; expected one of listen, dataFolder/),
    ]),
  );
  expect(problems).toHaveLength(4);
});

test('tells the line of a file that is no YAML', async () => {
  const file = await write('broken.yaml', 'listen:\n  port: 1\n  port: 2\n');
  expect(await problemsOf(load(file))).toEqual([expect.stringContaining(`${file}:3: `)]);
});

test('tells that a file is missing', async () => {
  const file = join(folder, 'none.yaml');
  expect(await problemsOf(load(file))).toEqual([`${file}: cannot be read (ENOENT)`]);
});

test('refuses a file that holds no keys', async () => {
  const file = await write('list.yaml', '- a\n- b\n');
  expect(await problemsOf(load(file))).toEqual([`${file}:1: expected object, received array`]);
});

test('lets the environment override the file, and the command line both', async () => {
  const file = await write('a.yaml', 'listen: { port: 1000 }\nlogLevel: warn\n');
  const environment = {
    NIGHTMILL_LISTEN_PORT: '2000',
    NIGHTMILL_LOG_LEVEL: 'debug',
    NIGHTMILL_HELPER_AGENT: 'false',
    NIGHTMILL_VOLUMES: 'rushes=/mnt/a=b;share=/mnt/share',
  };
  const config = await load(file, environment, {
    listen: '[::1]:3000',
    data: folder,
    redis: 'redis://db:6379',
  });
  expect(config).toMatchObject({
    listen: { host: '::1', port: 3000 },
    logLevel: 'debug',
    helperAgent: false,
    volumes: { rushes: '/mnt/a=b', share: '/mnt/share' },
    dataFolder: folder,
    redisUrl: 'redis://db:6379',
  });
});

test('calls a wrong override by the name that set it', async () => {
  const environment = { NIGHTMILL_LISTEN_PORT: 'high', NIGHTMILL_VOLUMES: 'rushes=mnt' };
  expect(await problemsOf(load(null, environment))).toEqual([
    'NIGHTMILL_LISTEN_PORT: listen.port: expected number, received string',
    'NIGHTMILL_VOLUMES: volumes.rushes: expected an absolute path',
  ]);
  expect(await problemsOf(load(null, {}, { listen: 'everywhere' }))).toEqual([
    '--listen: expected HOST:PORT such as 127.0.0.1:7311, not everywhere',
  ]);
});

test('refuses to be reached from other machines without a token', async () => {
  const problems = await problemsOf(load(null, { NIGHTMILL_LISTEN_HOST: '0.0.0.0' }));
  expect(problems).toEqual([expect.stringContaining('a token is expected')]);
  const config = await load(null, {
    NIGHTMILL_LISTEN_HOST: '0.0.0.0',
    NIGHTMILL_TOKEN: 'a-token-of-some-length',
  });
  expect(config.token).toBe('a-token-of-some-length');
});

test('reads a secret from a file beside the configuration', async () => {
  await write('token', 'a-token-of-some-length\n');
  expect((await load(await write('a.yaml', 'tokenFile: token\n'))).token).toBe('a-token-of-some-length');
  await write('token', 'short\n');
  expect(await problemsOf(load(await write('a.yaml', 'tokenFile: token\n')))).toEqual([
    expect.stringContaining('tokenFile: expected at least 16 characters'),
  ]);
});

test('refuses to lose a machine over one late message', async () => {
  const problems = await problemsOf(load(null, { NIGHTMILL_AGENTS_HEARTBEAT_SECONDS: '6' }));
  expect(problems).toEqual([expect.stringContaining('agents.lostAfterSeconds: expected at least twice')]);
});
