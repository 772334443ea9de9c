// Batches over HTTP: each submission is taken or refused for itself, and a repeated request makes nothing twice.
import { expect, test } from 'vitest';
import { createApiWorld, submission } from '../../../support/api/api-world.ts';

const second = { ...submission, source: 'rushes:B002.mov' };
const missing = { ...submission, source: 'rushes:C003.mov' };

type BatchAnswer = { id: string; jobs: { id: string; batchId: string }[]; refused: { position: number }[] };

test('what can be worked on is taken, the rest refused by position', async () => {
  const { post, get } = await createApiWorld();
  const answer = await post('/v1/batches', { jobs: [submission, missing, second] });
  expect(answer.status).toBe(201);
  const batch = (await answer.json()) as BatchAnswer;
  expect(batch).toMatchObject({
    jobs: [{ source: 'rushes:A001.mov' }, { source: 'rushes:B002.mov' }],
    refused: [{ position: 1, problem: { type: 'urn:nightmill:problem:source-missing' } }],
  });
  expect(batch.jobs.every((job) => job.batchId === batch.id)).toBe(true);
  expect(answer.headers.get('Location')).toBe(`/v1/batches/${batch.id}`);
  const listed = (await (await get(`/v1/batches/${batch.id}`)).json()) as BatchAnswer;
  expect(listed.jobs.map((job) => job.id).toSorted()).toEqual(batch.jobs.map((job) => job.id).toSorted());
});

test('a repeated key gives the same batch and the same jobs', async () => {
  const { post, book } = await createApiWorld();
  const send = async (jobs: unknown[]) => post('/v1/batches', { jobs }, { 'Idempotency-Key': 'night-3' });
  const first = (await (await send([submission, second])).json()) as BatchAnswer;
  const again = (await (await send([submission, second])).json()) as BatchAnswer;
  expect(again).toEqual(first);
  expect(book.list({ limit: 10 }).items).toHaveLength(2);
  expect((await send([second])).status).toBe(422);
});

test('a batch of which nothing can be taken is refused as a whole', async () => {
  const { post, book } = await createApiWorld();
  const answer = await post('/v1/batches', { jobs: [missing, { ...missing, format: 'betamax' }] });
  expect(answer.status).toBe(422);
  expect(await answer.json()).toMatchObject({
    status: 422,
    errors: [{ path: 'jobs.0' }, { path: 'jobs.1' }],
  });
  expect(book.list({ limit: 10 }).items).toEqual([]);
});

test('two submissions of one batch can’t make the same deliverable', async () => {
  const { post } = await createApiWorld();
  const batch = await (await post('/v1/batches', { jobs: [submission, submission] })).json();
  expect(batch).toMatchObject({
    jobs: [{}],
    refused: [{ position: 1, problem: { type: 'urn:nightmill:problem:destination-exists' } }],
  });
});

test('there is no batch of an unknown id', async () => {
  const { get } = await createApiWorld();
  expect((await get('/v1/batches/b0')).status).toBe(404);
});
