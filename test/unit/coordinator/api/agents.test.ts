// The agents' addresses: every message is checked, handed on, and refused when its attempt no longer counts.
import { mkdir, writeFile } from 'node:fs/promises';
import { dirname } from 'node:path';
import { expect, test } from 'vitest';
import { createApiWorld } from '../../../support/api/api-world.ts';
import { sampleFacts, sampleGrain } from '../../../support/job-builders.ts';

const registration = {
  protocol: 1,
  agentId: 'north-1',
  name: 'north',
  version: '1.2.3',
  platform: 'linux',
  cpu: 'a processor',
  cores: 8,
  ffmpeg: '6.1',
  encodePlaces: 1,
  deskPlaces: 2,
  lanes: [],
  volumes: {},
};

test('an agent registers under the name by which it reached us, beats and leaves', async () => {
  const { post, link } = await createApiWorld();
  const registered = await post('http://localhost:7311/v1/agents', registration);
  expect(await registered.json()).toMatchObject({ redisUrl: 'redis://localhost:6379', queueName: 'north-1' });
  const heartbeat = { reach: { granary: true, volumes: {} }, running: [], queueAgeSeconds: 0.5 };
  expect(await (await post('/v1/agents/north-1/heartbeat', heartbeat)).json()).toEqual({ stop: [] });
  expect((await post('/v1/agents/north-1/leave', {})).status).toBe(204);
  expect(link.said.map(({ what, words }) => [what, ...words])).toEqual([
    ['register', 'north-1', 'localhost'],
    ['heartbeat', 'north-1', 0.5],
    ['leave', 'north-1'],
  ]);
});

test('a message that is not valid goes no further', async () => {
  const { post, link } = await createApiWorld();
  expect((await post('/v1/agents', { ...registration, cores: 0 })).status).toBe(400);
  expect((await post('/v1/attempts/jtest000001/0/progress', { frames: 1, seconds: 1 })).status).toBe(400);
  expect((await post('/v1/attempts/jtest000001/1/grains', { index: 0 })).status).toBe(400);
  expect(link.said).toEqual([]);
});

test('progress and grains are answered with the lease', async () => {
  const { post, link } = await createApiWorld();
  const lease = { proceed: true, end: 240 };
  expect(await (await post('/v1/attempts/jtest000001/2/progress', { frames: 5, seconds: 1 })).json()).toEqual(
    lease,
  );
  expect(await (await post('/v1/attempts/jtest000001/2/grains', sampleGrain(3))).json()).toEqual(lease);
  expect(link.said).toEqual([
    { what: 'progress', words: ['jtest000001', 2, 5] },
    { what: 'grain', words: ['jtest000001', 2, 3] },
  ]);
});

test('what comes from an attempt that no longer counts is refused', async () => {
  const { post } = await createApiWorld();
  const answer = await post('/v1/attempts/jtest000001/99/grains', sampleGrain(3));
  expect(answer.status).toBe(409);
  expect(await answer.json()).toMatchObject({ type: 'urn:nightmill:problem:stale-attempt' });
});

test('the facts of a source with very many keyframes fit an outcome', async () => {
  const { post, link } = await createApiWorld();
  const keyframes = Array.from({ length: 60_000 }, (_, frame) => ({ frame, ticks: frame * 1001 }));
  const { picture } = sampleFacts();
  const facts = sampleFacts({ picture: { ...picture, allIntra: false, keyframes } });
  const outcome = JSON.stringify({ ok: true, result: { kind: 'inspect', facts } });
  expect(outcome.length).toBeGreaterThan(2 ** 20);
  expect((await post('/v1/attempts/jtest000001/1/outcome', outcome)).status).toBe(204);
  expect(link.said).toEqual([{ what: 'outcome', words: ['jtest000001', 1, true] }]);
});

const upload = {
  method: 'PUT',
  body: 'grain',
  headers: { 'Content-Length': '5', 'X-Content-XXH128': 'b'.repeat(32) },
};

test('a file is handed on as a stream, with its length and hash', async () => {
  const { app, link } = await createApiWorld();
  const answer = await app.request('/v1/attempts/jtest000001/2/files/grain-3.mov', upload);
  expect(answer.status).toBe(201);
  expect(await answer.json()).toMatchObject({ file: 'jtest000001/grain-3.mov', bytes: 5 });
  expect(link.said).toEqual([
    {
      what: 'file',
      words: [{ jobId: 'jtest000001', attempt: 2, name: 'grain-3.mov', bytes: 5, xxh128: 'b'.repeat(32) }],
    },
  ]);
  expect(link.bodies).toEqual(['grain']);
});

test.each([
  ['a name that climbs', '..%2Fgrain.mov', upload],
  ['no length', 'grain.mov', { ...upload, headers: { 'X-Content-XXH128': 'b'.repeat(32) } }],
  ['no hash', 'grain.mov', { ...upload, headers: { 'Content-Length': '5' } }],
])('an upload with %s is refused', async (_what, name, request) => {
  const { app, link } = await createApiWorld();
  expect((await app.request(`/v1/attempts/jtest000001/2/files/${name}`, request)).status).toBe(400);
  expect(link.said).toEqual([]);
});

test('a file of the granary is read whole, and nothing outside it', async () => {
  const { app, link } = await createApiWorld();
  const path = await link.granaryPath('jtest000001/a1-grain-0.mov');
  await mkdir(dirname(path), { recursive: true });
  await writeFile(path, 'grain');
  const answer = await app.request('/v1/granary/jtest000001/a1-grain-0.mov');
  expect([answer.status, answer.headers.get('Content-Length'), await answer.text()]).toEqual([
    200,
    '5',
    'grain',
  ]);
  const head = await app.request('/v1/granary/jtest000001/a1-grain-0.mov', { method: 'HEAD' });
  expect([head.status, head.headers.get('Content-Length'), await head.text()]).toEqual([200, '5', '']);
  for (const other of [
    'jtest000001/none.mov',
    'jtest000001',
    '..%2F..%2Fetc%2Fpasswd',
    'a/..%2f..%2fb',
    '%2Fetc%2Fpasswd',
  ]) {
    expect([other, (await app.request(`/v1/granary/${other}`)).status]).toEqual([other, 404]);
  }
});
