// The agent's config file: read as YAML or JSON, every problem with its line; tokens from files.
import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { readCommandLine, readEnvironment } from '../../agent/command-line.ts';
import { type AgentConfig, loadConfig } from '../../agent/config.ts';
import { tempFolder } from '../support/temp-folder.ts';

const yaml = `# The machine in suite 2
coordinator: http://server:7311
name: suite-2
volumes:
  rushes: /mnt/rushes
encodePlaces: 2
formats: [edit-proxy]
`;

test('reads YAML; the environment wins over it, the command line over both', async () => {
  const folder = await tempFolder();
  const config = await load(folder, yaml, {
    words: ['--name', 'suite-3'],
    environment: { NIGHTMILL_ENCODE_PLACES: '4' },
  });
  expect(config).toMatchObject({ name: 'suite-3', encodePlaces: 4, formats: ['edit-proxy'], token: null });
  expect(config.volumes).toEqual({ rushes: '/mnt/rushes' });
});

test('keeps the calibration in the state folder unless told otherwise', async () => {
  const folder = await tempFolder();
  const config = await load(folder, `${yaml}state: /var/lib/mill\n`);
  expect(config.calibration).toBe(join('/var/lib/mill', 'calibration'));
});

test('reads JSON as well', async () => {
  const folder = await tempFolder();
  const config = await load(folder, '{ "coordinator": "http://server:7311", "deskPlaces": 5 }');
  expect(config.deskPlaces).toBe(5);
});

test.each([
  [
    'an unknown key',
    yaml.replace('encodePlaces', 'encoderPlaces'),
    /:6: unknown key encoderPlaces; the keys are/,
  ],
  [
    'a wrong value',
    yaml.replace('encodePlaces: 2', 'encodePlaces: many'),
    /:6: encodePlaces: expected number/,
  ],
  [
    'a relative folder',
    yaml.replace('/mnt/rushes', 'rushes'),
    /:5: volumes\.rushes: expected an absolute path/,
  ],
  ['an unknown format', yaml.replace('edit-proxy', 'proxy'), /:7: formats\.0: expected one of/],
  ['text that is no YAML', `${yaml}volumes: {`, /agent\.yaml:\d+: /],
  ['a list', '- a\n- b\n', /:1: expected keys and values/],
])('tells the line of %s', async (_what, text, problem) => {
  const folder = await tempFolder();
  await expect(load(folder, text)).rejects.toMatchObject({
    code: 'bad-config',
    message: expect.stringMatching(problem),
  });
});

test('tells that the file is not there', async () => {
  const loading = loadConfig({
    commandLine: readCommandLine([]),
    environment: readEnvironment({}),
    file: '/nowhere/agent.yaml',
    flavour: 'posix',
  });
  await expect(loading).rejects.toMatchObject({
    code: 'bad-config',
    message: expect.stringContaining('/nowhere/agent.yaml'),
  });
});

test('takes the token from a file, without the line end', async () => {
  const folder = await tempFolder();
  const tokenFile = join(folder, 'token');
  await writeFile(tokenFile, 'a-long-secret\n');
  expect((await load(folder, `${yaml}tokenFile: ${tokenFile}\n`)).token).toBe('a-long-secret');
  expect((await load(folder, `${yaml}tokenFile: token\n`)).token, 'beside the config file').toBe(
    'a-long-secret',
  );
  await writeFile(tokenFile, '\n');
  await expect(load(folder, `${yaml}tokenFile: ${tokenFile}\n`)).rejects.toThrow(/is empty/);
});

type Beside = { words?: string[]; environment?: Record<string, string> };

async function load(folder: string, text: string, beside: Beside = {}): Promise<AgentConfig> {
  const file = join(folder, 'agent.yaml');
  await writeFile(file, text);
  return loadConfig({
    commandLine: readCommandLine(beside.words ?? []),
    environment: readEnvironment(beside.environment ?? {}),
    file,
    flavour: 'posix',
  });
}
