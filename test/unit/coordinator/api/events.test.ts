// The stream of changes: nothing is missed or told twice, whoever was away goes on where it stopped (WHATWG HTML,
// section 9.2: Last-Event-ID), and progress passes by without a number.
import { expect, onTestFinished, test } from 'vitest';
import { type ApiWorld, createApiWorld, submission } from '../../../support/api/api-world.ts';
import { readEvents } from '../../../support/api/read-events.ts';
import { sampleFailure } from '../../../support/job-builders.ts';
import { storyUpTo } from '../../../support/job-story.ts';
import { waitUntil } from '../../../support/wait-until.ts';

async function listen({ get }: ApiWorld, path: string, headers: Record<string, string> = {}) {
  const response = await get(path, headers);
  expect(response.status).toBe(200);
  expect(response.headers.get('Content-Type')).toBe('text/event-stream');
  const reader = readEvents(response);
  onTestFinished(() => reader.close());
  const [start] = await reader.take(1);
  expect(start).toMatchObject({ event: 'start', id: String(JSON.parse(start?.data ?? '').seq) });
  return reader;
}

test('from the beginning every event is told in order, with its number as id', async () => {
  const world = await createApiWorld();
  await world.post('/v1/jobs', submission);
  for (const event of storyUpTo('delivered')) world.book.record('jtest000001', event);
  const stream = await listen(world, '/v1/events?after=0');
  const told = await stream.take(storyUpTo('delivered').length + 1);
  expect(told.every((event) => event.event === 'change')).toBe(true);
  expect(told.map((event) => JSON.parse(event.data).type)).toEqual([
    'received',
    ...storyUpTo('delivered').map((event) => event.type),
  ]);
  expect(told.map((event) => event.id)).toEqual(told.map((event) => String(JSON.parse(event.data).seq)));
  expect(JSON.parse(told[0]?.data ?? '')).toMatchObject({
    jobId: 'jtest000001',
    detail: { source: 'rushes:A001.mov', format: 'edit-proxy', deliverable: 'share:proxies/A001.mov' },
  });
});

test('without a number the stream starts now and tells what happens', async () => {
  const world = await createApiWorld();
  await world.post('/v1/jobs', submission);
  const stream = await listen(world, '/v1/events');
  world.book.record('jtest000001', { type: 'held', reason: sampleFailure() });
  const [event] = await stream.take(1);
  expect(JSON.parse(event?.data ?? '')).toMatchObject({
    type: 'held',
    detail: { reason: 'the encoder ended with code 1' },
  });
});

test('a client that comes back misses nothing and hears nothing twice', async () => {
  const world = await createApiWorld();
  await world.post('/v1/jobs', submission);
  const first = await listen(world, '/v1/events?after=0');
  const [seen] = await first.take(1);
  await first.close();
  await world.post('/v1/jobs', { ...submission, source: 'rushes:B002.mov' });
  const second = await listen(world, '/v1/events?after=0', { 'Last-Event-ID': seen?.id ?? '' });
  const [next] = await second.take(1);
  expect(JSON.parse(next?.data ?? '')).toMatchObject({ jobId: 'jtest000002', type: 'received' });
});

test('a client that was cut off before anything happened knows where to go on', async () => {
  const world = await createApiWorld();
  await world.post('/v1/jobs', submission);
  const response = await world.get('/v1/events');
  const reader = readEvents(response);
  const [start] = await reader.take(1);
  await reader.close();
  await world.post('/v1/jobs', { ...submission, source: 'rushes:B002.mov' });
  const again = await listen(world, '/v1/events', { 'Last-Event-ID': start?.id ?? '' });
  const [missed] = await again.take(1);
  expect(JSON.parse(missed?.data ?? '')).toMatchObject({ jobId: 'jtest000002' });
});

test('more events than fit one reading of the book arrive all the same', async () => {
  const world = await createApiWorld();
  await world.post('/v1/jobs', submission);
  for (let round = 0; round < 150; round += 1) {
    world.book.record('jtest000001', { type: 'held', reason: sampleFailure() });
    world.book.record('jtest000001', { type: 'retried' });
  }
  const stream = await listen(world, '/v1/events?after=0');
  const ids = (await stream.take(301)).map((event) => Number(event.id));
  expect(ids).toEqual(ids.toSorted((a, b) => a - b));
  expect(new Set(ids).size).toBe(301);
});

test('one job can be followed alone', async () => {
  const world = await createApiWorld();
  for (const source of ['rushes:A001.mov', 'rushes:B002.mov'])
    await world.post('/v1/jobs', { ...submission, source });
  const stream = await listen(world, '/v1/events?after=0&job=jtest000002');
  world.farm.tell('jtest000001', 1, { frames: 10, seconds: 1 });
  world.farm.tell('jtest000002', 1, { frames: 30, seconds: 2 });
  const [change, progress] = await stream.take(2);
  expect(JSON.parse(change?.data ?? '')).toMatchObject({ jobId: 'jtest000002' });
  expect(progress).toMatchObject({ event: 'progress', id: undefined });
  expect(JSON.parse(progress?.data ?? '')).toEqual({
    jobId: 'jtest000002',
    attempt: 1,
    frames: 30,
    framesPerSecond: 15,
  });
});

test('of many words about progress the newest is told', async () => {
  const world = await createApiWorld();
  const stream = await listen(world, '/v1/events');
  for (let frames = 1; frames <= 1000; frames += 1) world.farm.tell('jtest000001', 1, { frames, seconds: 1 });
  const [progress] = await stream.take(1);
  expect(JSON.parse(progress?.data ?? '')).toMatchObject({ frames: 1000 });
});

test('a silent stream is kept alive by comments', async () => {
  const stream = await listen(await createApiWorld(), '/v1/events');
  expect([await stream.comment(), await stream.comment()]).toEqual(['still here', 'still here']);
});

test('a client that left is no longer listened for', async () => {
  const world = await createApiWorld();
  const stream = await listen(world, '/v1/events');
  expect(world.farm.listeners.size).toBe(1);
  await stream.close();
  await waitUntil('the listener is gone', () => world.farm.listeners.size === 0);
});

test('a number from another ledger starts now instead of never', async () => {
  const world = await createApiWorld();
  const stream = await listen(world, '/v1/events', { 'Last-Event-ID': '123456' });
  await world.post('/v1/jobs', submission);
  expect(await stream.take(1)).toHaveLength(1);
});

test.each([{ 'Last-Event-ID': 'x' }, { 'Last-Event-ID': '-1' }])(
  '%j is no number to start after',
  async (headers) => {
    const { get } = await createApiWorld();
    expect((await get('/v1/events', headers)).status).toBe(400);
    expect((await get('/v1/events?after=x')).status).toBe(400);
  },
);
