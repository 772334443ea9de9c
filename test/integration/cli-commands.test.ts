// The commands against a coordinator's HTTP room on a real socket: what they print, as tables and as JSON, and how
// they end.
import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { runCommandLine } from '../../coordinator/cli/run-command-line.ts';
import type { Terminal } from '../../coordinator/cli/terminal.ts';
import { sampleMachine } from '../support/api/sample-machine.ts';
import { type ServedApi, serveApi } from '../support/api/serve-api.ts';
import { recordingTerminal } from '../support/cli/recording-terminal.ts';
import { sampleFailure } from '../support/job-builders.ts';
import { storyUpTo } from '../support/job-story.ts';
import { waitUntil } from '../support/wait-until.ts';

async function run({ url }: ServedApi, words: string[], changes: Partial<Terminal> = {}) {
  const terminal = recordingTerminal({ environment: { NIGHTMILL_URL: url }, ...changes });
  const exitCode = await runCommandLine(words, terminal);
  return { exitCode, written: terminal.written.join('\n'), told: terminal.told.join('\n') };
}

const submit = ['submit', 'rushes:A001.mov', '--format', 'edit-proxy', '--to', 'share:proxies'];
const deliver = ({ book }: ServedApi, id: string) => {
  for (const event of storyUpTo('delivered')) book.record(id, event);
};

test('submit prints the job and where it will go', async () => {
  const api = await serveApi();
  const { exitCode, written } = await run(api, submit);
  expect([exitCode, written]).toEqual([0, 'jtest000001  rushes:A001.mov → share:proxies/A001.mov']);
});

test('submit sent twice with a key of its own makes one job', async () => {
  const api = await serveApi();
  const first = await run(api, [...submit, '--key', 'night-1']);
  expect(await run(api, [...submit, '--key', 'night-1'])).toEqual(first);
  expect(api.book.list({ limit: 10 }).items).toHaveLength(1);
});

test('submit of several takes what it can, names the rest and ends with 2', async () => {
  const api = await serveApi();
  const { exitCode, written, told } = await run(api, [...submit, 'rushes:none.mov', 'rushes:B002.mov']);
  expect(exitCode).toBe(2);
  expect(written.split('\n').map((line) => line.slice(0, 11))).toEqual(['jtest000001', 'jtest000002']);
  expect(told).toMatch(/^rushes:none\.mov: .* is not there/);
});

test('a refused submission is told in the coordinator’s words and ends with 2', async () => {
  const api = await serveApi();
  const unknown = await run(api, ['submit', 'rushes:A001.mov', '--format', 'betamax', '--to', 'share:']);
  expect(unknown).toMatchObject({
    exitCode: 2,
    told: expect.stringMatching(/^nightmill: there is no house format "betamax"/),
  });
  const invalid = await run(api, ['submit', 'A001.mov', '--format', 'edit-proxy', '--to', 's']);
  expect(invalid.told).toMatch(/^nightmill: the request is not valid:\n {2}source: .*\n {2}to: /);
});

test('submit --wait ends with the reports once all is delivered', async () => {
  const api = await serveApi();
  const waiting = run(api, [...submit, 'rushes:B002.mov', '--wait']);
  await waitUntil('both jobs are there', () => api.book.list({ limit: 10 }).items.length === 2);
  deliver(api, 'jtest000001');
  deliver(api, 'jtest000002');
  const { exitCode, written, told } = await waiting;
  expect(exitCode).toBe(0);
  expect(written).toContain('delivered as share:proxies/A001.mov: 240 frames, 5 grains, 1.2 kB');
  expect(written).toContain('delivered as share:proxies/B002.mov');
  expect(told).toContain('2 of 2 jobs done, 480 of 480 frames, 100 %');
});

test('submit --wait ends with 1 when a job comes to nothing', async () => {
  const api = await serveApi();
  const waiting = run(api, [...submit, '--wait', '--json']);
  await waitUntil('the job is there', () => api.book.get('jtest000001'));
  api.book.record('jtest000001', { type: 'failed', reason: sampleFailure('not-media', 'this is a text') });
  const { exitCode, written } = await waiting;
  expect(exitCode).toBe(1);
  expect(JSON.parse(written)).toMatchObject([
    { state: 'failed', deliverable: null, error: { code: 'not-media' } },
  ]);
});

test('waiting goes on when the connection breaks', async () => {
  const api = await serveApi();
  const waiting = run(api, [...submit, '--wait']);
  await waitUntil('somebody listens', () => api.farm.listeners.size === 1);
  api.cutConnections();
  await waitUntil('nobody listens', () => api.farm.listeners.size === 0);
  deliver(api, 'jtest000001');
  expect((await waiting).exitCode).toBe(0);
});

test('waiting that is interrupted ends with 130 and leaves the job alone', async () => {
  const api = await serveApi();
  const interrupt = new AbortController();
  const waiting = run(api, [...submit, '--wait'], { interrupted: interrupt.signal });
  await waitUntil('somebody listens', () => api.farm.listeners.size === 1);
  interrupt.abort();
  expect((await waiting).exitCode).toBe(130);
  expect(api.book.get('jtest000001')?.state).toBe('received');
});

test('jobs lists page after page, picks by state, and prints JSON for programs', async () => {
  const api = await serveApi();
  for (let number = 0; number < 203; number += 1) {
    await writeFile(join(api.volumes.rushes, `take-${number}.mov`), 'pictures');
    await api.post('/v1/jobs', { source: `rushes:take-${number}.mov`, format: 'edit-proxy', to: 'share:' });
  }
  api.book.record('jtest000002', { type: 'held', reason: sampleFailure() });
  const all = await run(api, ['jobs', '--json', '--limit', '1000']);
  expect(JSON.parse(all.written)).toHaveLength(203);
  expect((await run(api, ['jobs'])).written.split('\n')).toHaveLength(51);
  const held = await run(api, ['jobs', '--state', 'held']);
  expect(held.written).toMatch(
    /^job +state +source +format .*\njtest000002 +held +rushes:take-1\.mov +edit-proxy .*the encoder…with code 1$/,
  );
  expect(await run(api, ['jobs', '--state', 'failed'])).toEqual({
    exitCode: 0,
    written: '',
    told: 'there are no such jobs',
  });
  expect((await run(api, ['jobs', '--state', 'lost'])).exitCode).toBe(2);
});

test('job tells everything about one, also how it went', async () => {
  const api = await serveApi();
  await run(api, submit);
  deliver(api, 'jtest000001');
  const { exitCode, written } = await run(api, ['job', 'jtest000001']);
  expect(exitCode).toBe(0);
  expect(written).toMatch(/^state +delivered$/m);
  expect(written).toMatch(/^grains +5 of 5 stored$/m);
  expect(written).toMatch(/^north +dnxhd +0 +240 +240 +5 /m);
  expect(written).toMatch(/^frame-count +good +240 frames +240 frames$/m);
  expect(JSON.parse((await run(api, ['job', 'jtest000001', '--json'])).written)).toMatchObject({
    id: 'jtest000001',
    plan: { frames: 240 },
  });
  expect(await run(api, ['job', 'jnone'])).toMatchObject({
    exitCode: 2,
    told: 'nightmill: There is no job jnone.',
  });
});

test('cancel and retry say what became of the job', async () => {
  const api = await serveApi();
  await run(api, submit);
  api.book.record('jtest000001', { type: 'held', reason: sampleFailure() });
  expect((await run(api, ['retry', 'jtest000001'])).written).toBe('jtest000001 is received');
  expect((await run(api, ['cancel', 'jtest000001'])).written).toBe('jtest000001 is cancelled');
  expect((await run(api, ['cancel', 'jtest000001'])).exitCode).toBe(2);
});

test('report tells named jobs, or the newest that came to rest', async () => {
  const api = await serveApi();
  expect((await run(api, ['report'])).told).toBe('no job has come to rest yet');
  await run(api, submit);
  deliver(api, 'jtest000001');
  const newest = await run(api, ['report', '--json']);
  expect(JSON.parse(newest.written)).toMatchObject([{ source: 'rushes:A001.mov', state: 'delivered' }]);
  expect((await run(api, ['report', 'jtest000001', '--json'])).written).toBe(newest.written);
  expect((await run(api, ['report', 'jnone'])).exitCode).toBe(2);
});

test('machines, lanes, formats and the forecast are tables that fit', async () => {
  const api = await serveApi();
  expect((await run(api, ['machines'])).told).toContain('no machine has registered yet');
  api.farm.list = [sampleMachine({ cpu: 'a processor with a very long name indeed, as processors have' })];
  const machines = (await run(api, ['machines'])).written;
  expect(machines).toMatch(/^north +yes +0 of 1 +dnxhd +8 /m);
  expect((await run(api, ['lanes'])).written).toMatch(/^north +hevc_nvenc +h265 +gpu-0 +no +no driver$/m);
  expect((await run(api, ['formats'])).written).toMatch(/^lossless-master +1 +mkv +ffv1 /m);
  await run(api, submit);
  const forecast = (await run(api, ['forecast'])).written;
  expect(forecast).toMatch(/^jtest000001 +received .* unknown +unknown +unknown +unknown +unknown$/m);
  expect(forecast).toMatch(/when all is encoded: unknown$/);
  for (const line of `${machines}\n${forecast}`.split('\n')) expect(line.length).toBeLessThanOrEqual(100);
});

test('a coordinator with a token answers its bearer only', async () => {
  const api = await serveApi({ token: 'a-token-of-some-length' });
  expect(await run(api, ['jobs'])).toMatchObject({
    exitCode: 2,
    told: expect.stringContaining('Authorization'),
  });
  const environment = { NIGHTMILL_URL: api.url, NIGHTMILL_TOKEN: 'a-token-of-some-length' };
  expect((await run(api, ['jobs'], { environment })).exitCode).toBe(0);
});
