// Words to commands: what is understood, what is refused with exit code 2, and what help says.
import { expect, test } from 'vitest';
import { runCommandLine } from '../../../../coordinator/cli/run-command-line.ts';
import { recordingTerminal } from '../../../support/cli/recording-terminal.ts';

async function run(words: string[], environment: Record<string, string> = {}) {
  const terminal = recordingTerminal({ environment });
  const exitCode = await runCommandLine(words, terminal);
  return { exitCode, written: terminal.written.join('\n'), told: terminal.told.join('\n') };
}

const commands = [
  'once',
  'coordinator',
  'agent',
  'submit',
  'jobs',
  'job',
  'cancel',
  'retry',
  'machines',
  'lanes',
  'formats',
  'forecast',
  'report',
  'simulate',
];

test('help names every command and is no failure', async () => {
  const { exitCode, written } = await run(['--help']);
  expect(exitCode).toBe(0);
  for (const command of commands) expect(written).toMatch(new RegExp(`^  ${command}\\b`, 'm'));
});

test.each([
  [[], 'Usage'],
  [['dance'], "unknown command 'dance'"],
  [['once', '--format', 'edit-proxy', '--to', '.'], "missing required argument 'sources'"],
  [['once', 'a.mov'], "required option '--format <name>' not specified"],
  [
    ['once', 'a.mov', '--format', 'edit-proxy', '--to', '.', '--agents', '0'],
    'expected a whole number from 1 to 64',
  ],
  [['once', 'a.mov', '--format', 'edit-proxy', '--to', '.', '--fast'], "unknown option '--fast'"],
  [['jobs', '--limit', 'many'], 'expected a whole number'],
  [['job'], "missing required argument 'id'"],
  [['machines', '--coordinator', 'ftp://studio'], 'no address of a coordinator'],
  [['simulate', 'night.json'], 'simulate is not there yet'],
])('%j is a wrong request', async (words, sentence) => {
  const { exitCode, told } = await run(words);
  expect(told).toContain(sentence);
  expect(exitCode).toBe(2);
});

test('once tells a missing source in one sentence', async () => {
  const { exitCode, told } = await run([
    'once',
    '/nowhere/two\nlines.mov',
    '--format',
    'edit-proxy',
    '--to',
    '/',
  ]);
  expect(exitCode).toBe(2);
  expect(told).toBe(String.raw`nightmill: /nowhere/two\nlines.mov is not there; check the path`);
});

test('a name that begins with a dash follows two dashes', async () => {
  const { told } = await run(['once', '--format', 'edit-proxy', '--to', '/', '--', '-no.mov']);
  expect(told).toContain('-no.mov is not there');
});

test('a coordinator that does not answer is failed work, told with its address', async () => {
  const { exitCode, told } = await run(['jobs'], { NIGHTMILL_URL: 'http://127.0.0.1:9' });
  expect(exitCode).toBe(1);
  expect(told).toMatch(
    /^nightmill: no coordinator answers at http:\/\/127\.0\.0\.1:9 \(.+\); start one with/,
  );
});

test('a token file that is not there is a wrong request', async () => {
  const { exitCode, told } = await run(['jobs'], { NIGHTMILL_TOKEN_FILE: '/nowhere/token' });
  expect([exitCode, told]).toEqual([2, 'nightmill: NIGHTMILL_TOKEN_FILE: /nowhere/token cannot be read']);
});
