// Jobs over HTTP: submitting once, listing by pages, looking, cancelling, retrying, reading the report.
import { rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { jobDetailSchema, reportSchema } from '#shared/job.ts';
import { createApiWorld, submission } from '../../../support/api/api-world.ts';
import { sampleFailure } from '../../../support/job-builders.ts';
import { storyUpTo } from '../../../support/job-story.ts';

test('a submission becomes a job with an address', async () => {
  const { post, get } = await createApiWorld();
  const answer = await post('/v1/jobs', submission);
  expect(answer.status).toBe(201);
  const job = jobDetailSchema.parse(await answer.json());
  expect(job).toMatchObject({
    state: 'received',
    source: 'rushes:A001.mov',
    deliverable: 'share:proxies/A001.mov',
  });
  expect(answer.headers.get('Location')).toBe(`/v1/jobs/${job.id}`);
  expect(await (await get(`/v1/jobs/${job.id}`)).json()).toEqual(JSON.parse(JSON.stringify(job)));
});

test.each(['abc-1', '"abc-1"'])('the key %s makes one job, however it is written', async (key) => {
  const { post, book } = await createApiWorld();
  const first = await post('/v1/jobs', submission, { 'Idempotency-Key': 'abc-1' });
  // Defaults spelled out and keys in another order are the same request.
  const again = await post('/v1/jobs', { priority: 0, ...submission }, { 'Idempotency-Key': key });
  expect(again.status).toBe(201);
  expect(again.headers.get('Location')).toBe(first.headers.get('Location'));
  expect(book.list({ limit: 10 }).items).toHaveLength(1);
});

test('a key that comes back with another request is refused', async () => {
  const { post, book } = await createApiWorld();
  await post('/v1/jobs', submission, { 'Idempotency-Key': 'k' });
  const other = await post(
    '/v1/jobs',
    { ...submission, source: 'rushes:B002.mov' },
    { 'Idempotency-Key': 'k' },
  );
  expect(other.status).toBe(422);
  expect(await other.json()).toMatchObject({ type: 'urn:nightmill:problem:key-reused' });
  expect(book.list({ limit: 10 }).items).toHaveLength(1);
});

test.each(['', '""', '"a', 'a b', 'ü', 'x'.repeat(256), String.raw`"\n"`])(
  'the key %j is no key',
  async (key) => {
    const { post } = await createApiWorld();
    const headers = { 'Idempotency-Key': Buffer.from(key).toString('latin1') };
    expect((await post('/v1/jobs', submission, headers)).status).toBe(400);
  },
);

test.each([
  [{ format: 'betamax' }, 422, 'unknown-format'],
  [{ source: 'attic:A001.mov' }, 422, 'unknown-volume'],
  [{ source: 'rushes:C003.mov' }, 422, 'source-missing'],
  [{ to: 'rushes:' }, 409, 'destination-exists'],
  [{ source: 'rushes:../A001.mov' }, 400, 'bad-request'],
  [{ priority: 1000 }, 400, 'bad-request'],
])('%j is answered with %i %s', async (change, status, code) => {
  const { post, book } = await createApiWorld();
  const answer = await post('/v1/jobs', { ...submission, ...change });
  expect(answer.status).toBe(status);
  expect(await answer.json()).toMatchObject({ type: `urn:nightmill:problem:${code}`, status });
  expect(book.list({ limit: 10 }).items).toEqual([]);
});

test('the list is paged by cursor and picked by state and batch', async () => {
  const { post, get, book, volumes } = await createApiWorld();
  const names = ['a', 'b', 'c', 'd', 'e'];
  await Promise.all(names.map((name) => writeFile(join(volumes.rushes, `${name}.mov`), 'pictures')));
  for (const name of names) await post('/v1/jobs', { ...submission, source: `rushes:${name}.mov` });
  const seen: string[] = [];
  let cursor = '';
  do {
    const page = (await (
      await get(`/v1/jobs?limit=2${cursor && `&cursor=${encodeURIComponent(cursor)}`}`)
    ).json()) as {
      items: { id: string; source: string }[];
      nextCursor: string | null;
    };
    seen.push(...page.items.map((item) => item.source));
    cursor = page.nextCursor ?? '';
  } while (cursor !== '');
  expect(seen.toSorted()).toEqual(names.map((name) => `rushes:${name}.mov`));
  book.record('jtest000002', { type: 'cancelled' });
  expect(await (await get('/v1/jobs?state=cancelled')).json()).toMatchObject({
    items: [{ id: 'jtest000002' }],
    nextCursor: null,
  });
  expect(await (await get('/v1/jobs?batch=none')).json()).toEqual({ items: [], nextCursor: null });
});

test.each(['limit=0', 'limit=201', 'limit=x', 'state=waiting', 'cursor=nonsense'])(
  'the query %s is refused',
  async (query) => {
    const { get } = await createApiWorld();
    const answer = await get(`/v1/jobs?${query}`);
    expect(answer.status).toBe(400);
    expect(answer.headers.get('Content-Type')).toBe('application/problem+json');
  },
);

test('a job is cancelled once, and a cancelled one is not retried', async () => {
  const { post } = await createApiWorld();
  await post('/v1/jobs', submission);
  const cancelled = await post('/v1/jobs/jtest000001/cancel', '');
  expect([cancelled.status, ((await cancelled.json()) as { state: string }).state]).toEqual([
    200,
    'cancelled',
  ]);
  for (const action of ['cancel', 'retry']) {
    const again = await post(`/v1/jobs/jtest000001/${action}`, '');
    expect(again.status).toBe(409);
    expect(await again.json()).toMatchObject({ type: 'urn:nightmill:problem:wrong-state' });
  }
});

test('a held job says why and is at work again after a retry', async () => {
  const { post, get, book } = await createApiWorld();
  await post('/v1/jobs', submission);
  book.record('jtest000001', { type: 'held', reason: sampleFailure() });
  expect(await (await get('/v1/jobs/jtest000001')).json()).toMatchObject({
    state: 'held',
    reason: 'the encoder ended with code 1',
  });
  expect(await (await post('/v1/jobs/jtest000001/retry', '')).json()).toMatchObject({
    state: 'received',
    reason: null,
  });
});

test.each(['', '/cancel', '/retry', '/report'])('there is no job%s of an unknown id', async (action) => {
  const { app } = await createApiWorld();
  const method = action === '/cancel' || action === '/retry' ? 'POST' : 'GET';
  const answer = await app.request(`/v1/jobs/jnone00000${action}`, { method });
  expect(answer.status).toBe(404);
});

test('the report of a delivered job has every figure of it', async () => {
  const { post, get, book, volumes } = await createApiWorld();
  await post('/v1/jobs', submission);
  await rm(join(volumes.rushes, 'A001.mov'));
  for (const event of storyUpTo('delivered')) {
    expect(book.record('jtest000001', event)).not.toHaveProperty('refused');
  }
  const report = reportSchema.parse(await (await get('/v1/jobs/jtest000001/report')).json());
  expect(report).toMatchObject({
    source: 'rushes:A001.mov',
    state: 'delivered',
    deliverable: 'share:proxies/A001.mov',
    format: { name: 'edit-proxy', version: 1 },
    frames: 240,
    rate: '24/1',
    bytes: 1234,
    hash: `xxh128:${'a'.repeat(32)}`,
    segments: [
      { attempt: 2, machine: 'north', first: 0, end: 240, framesDone: 240, grainsStored: 5, state: 'done' },
    ],
    grains: 5,
    notes: ['a data track'],
    versions: { nightmill: '1.2.3' },
    error: null,
  });
  expect(report.checks.map((check) => check.name)).toEqual(['frame-count', 'bytes']);
});

test('an undelivered job has no deliverable in its report', async () => {
  const { post, get } = await createApiWorld();
  await post('/v1/jobs', submission);
  expect(await (await get('/v1/jobs/jtest000001/report')).json()).toMatchObject({
    state: 'received',
    deliverable: null,
    bytes: null,
    frames: null,
  });
});
