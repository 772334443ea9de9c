// The command line as a process: exit codes, becoming another program, and children that end with it.
import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { standBy } from '../../coordinator/cli/become.ts';
import { startChild } from '../../coordinator/cli/once/child-program.ts';
import { serveApi } from '../support/api/serve-api.ts';
import { runProgram } from '../support/cli/run-program.ts';
import { storyUpTo } from '../support/job-story.ts';
import { tempFolder } from '../support/temp-folder.ts';
import { waitUntil } from '../support/wait-until.ts';

test('help goes to standard output, a wrong word to standard error', async () => {
  const help = await runProgram(['--help']);
  expect(help).toMatchObject({ exitCode: 0, stderr: '' });
  expect(help.stdout).toContain('Usage: nightmill');
  const wrong = await runProgram(['dance']);
  expect(wrong).toMatchObject({ exitCode: 2, stdout: '' });
  expect(wrong.stderr).toMatch(/^nightmill: unknown command 'dance'/);
});

test('a command that waited ends when the waiting is over, with its answer written', async () => {
  const api = await serveApi();
  const words = ['submit', 'rushes:A001.mov', '--format', 'edit-proxy', '--to', 'share:', '--wait', '--json'];
  const running = runProgram(words, { env: { NIGHTMILL_URL: api.url } });
  await waitUntil('it listens', () => api.farm.listeners.size === 1);
  for (const event of storyUpTo('delivered')) api.book.record('jtest000001', event);
  const ended = await running;
  expect(ended).toMatchObject({ exitCode: 0 });
  expect(JSON.parse(String(ended.stdout))).toMatchObject([{ state: 'delivered' }]);
});

test('run by npm, paths start where the user stands', async () => {
  const env = { npm_lifecycle_event: 'nightmill', INIT_CWD: await tempFolder() };
  const { stderr } = await runProgram(['once', 'A001.mov', '--format', 'edit-proxy', '--to', '.'], { env });
  expect(stderr).toBe(`nightmill: ${join(env.INIT_CWD, 'A001.mov')} is not there; check the path`);
});

test('agent and coordinator read their own words and end with their own code', async () => {
  const help = await runProgram(['agent', '--help']);
  expect(help.exitCode).toBe(0);
  expect(help.stdout).toContain('--encode-places');
  expect((await runProgram(['agent', '--dance'])).exitCode).toBe(2);
  const coordinator = await runProgram(['coordinator', '--listen', '0.0.0.0:0']);
  expect(coordinator.exitCode).toBe(2);
  expect(coordinator.stderr).toContain('--listen: listen.host: 0.0.0.0 can be reached from other machines');
});

test('standing by for a program ends with its exit code', async () => {
  const program = join(await tempFolder(), 'program.mjs');
  await writeFile(program, 'process.exit(Number(process.argv[2]));');
  expect(await standBy(program, ['7'])).toBe(7);
  expect(process.listenerCount('SIGHUP')).toBe(0);
});

const lingering = `
  console.log('words', process.argv.slice(2).join());
  process.stdin.on('end', () => { console.log('asked to end'); process.exit(3); }).resume();
  setInterval(() => {}, 1000);
`;

async function linger(text: string) {
  const folder = await tempFolder();
  const program = join(folder, 'program.mjs');
  const logFile = join(folder, 'program.log');
  await writeFile(program, text);
  const child = await startChild({
    name: 'it',
    program,
    words: ['a', '-b'],
    environment: process.env,
    logFile,
  });
  const log = () => readFile(logFile, 'utf8');
  await waitUntil('it runs', async () => (await log()).includes('words a,-b'));
  return { child, log };
}

test('a child is asked to end, and how it ended is known', async () => {
  const { child, log } = await linger(lingering);
  await child.stop();
  expect(await child.ended).toBe('ended with code 3');
  expect(await log()).toContain('asked to end');
});

test('a child that ends by itself says how, and its last words are kept', async () => {
  const { child } = await linger(
    `console.log('words a,-b'); console.error('{"msg":"it ends","failure":{"message":"out of film"}}'); process.exit(4);`,
  );
  expect(await child.ended).toBe('ended with code 4');
  expect(await child.lastWords()).toBe('words a,-b\nit ends: out of film');
  await child.stop();
});

test('a program that can’t be started is told as such', async () => {
  const folder = await tempFolder();
  const child = await startChild({
    name: 'it',
    program: join(folder, 'none.mjs'),
    words: [],
    environment: process.env,
    logFile: join(folder, 'log'),
  });
  expect(await child.ended).toBe('ended with code 1');
  expect(await child.lastWords()).toContain('Node.js');
});
