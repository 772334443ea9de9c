// The HTTP room on a real socket: what only shows there. Bodies that are refused before they have all come, streams
// that break, very many at once.
import { createHash, randomBytes } from 'node:crypto';
import { mkdir, writeFile } from 'node:fs/promises';
import { dirname } from 'node:path';
import { expect, test } from 'vitest';
import { submission } from '../support/api/api-world.ts';
import { readEvents } from '../support/api/read-events.ts';
import { serveApi } from '../support/api/serve-api.ts';
import { waitUntil } from '../support/wait-until.ts';

const MEBIBYTE = 2 ** 20;
const json = { 'Content-Type': 'application/json' };

function put(url: string, attempt: number, body: Uint8Array<ArrayBuffer>) {
  const headers = { 'X-Content-XXH128': '0'.repeat(32) };
  return fetch(`${url}/v1/attempts/jtest000001/${attempt}/files/grain.mov`, { method: 'PUT', headers, body });
}

test('a large file goes through as a stream', async () => {
  const { url, link } = await serveApi();
  const answer = await put(url, 1, new Uint8Array(20 * MEBIBYTE));
  expect([answer.status, link.bodies[0]?.length]).toEqual([201, 20 * MEBIBYTE]);
});

test('an upload that no longer counts is answered, not cut off', async () => {
  const { url } = await serveApi();
  const answer = await put(url, 99, new Uint8Array(20 * MEBIBYTE));
  expect(answer.status).toBe(409);
  expect(await answer.json()).toMatchObject({ type: 'urn:nightmill:problem:stale-attempt' });
});

test('a request that is too large is answered, also when it does not say how large it is', async () => {
  const { url } = await serveApi();
  const large = JSON.stringify({ source: 'x'.repeat(2 * MEBIBYTE) });
  const known = await fetch(`${url}/v1/jobs`, { method: 'POST', headers: json, body: large });
  expect(known.status).toBe(413);
  const body = new Blob([large]).stream();
  const unknown = await fetch(`${url}/v1/jobs`, {
    method: 'POST',
    headers: json,
    body,
    duplex: 'half',
  });
  expect(unknown.status).toBe(413);
});

test('a file of the granary arrives bit for bit', async () => {
  const { url, link } = await serveApi();
  const path = await link.granaryPath('jtest000001/a1-joined.mov');
  const bytes = randomBytes(5 * MEBIBYTE + 1);
  await mkdir(dirname(path), { recursive: true });
  await writeFile(path, bytes);
  const answer = await fetch(`${url}/v1/granary/jtest000001/a1-joined.mov`);
  const hash = (data: Uint8Array) => createHash('sha256').update(data).digest('hex');
  expect(hash(new Uint8Array(await answer.arrayBuffer()))).toBe(hash(bytes));
});

test('a hundred equal requests at once with one key make one job', async () => {
  const { url, book } = await serveApi();
  const headers = { ...json, 'Idempotency-Key': 'one' };
  const send = () => fetch(`${url}/v1/jobs`, { method: 'POST', headers, body: JSON.stringify(submission) });
  const answers = await Promise.all(Array.from({ length: 100 }, send));
  expect(new Set(answers.map((answer) => answer.status))).toEqual(new Set([201]));
  expect(new Set(answers.map((answer) => answer.headers.get('Location'))).size).toBe(1);
  expect(book.list({ limit: 10 }).items).toHaveLength(1);
});

test('of many requests at once for one deliverable only one is taken', async () => {
  const { url, book } = await serveApi();
  const send = () =>
    fetch(`${url}/v1/jobs`, { method: 'POST', headers: json, body: JSON.stringify(submission) });
  const answers = await Promise.all(Array.from({ length: 20 }, send));
  expect(answers.filter((answer) => answer.status === 201)).toHaveLength(1);
  expect(answers.filter((answer) => answer.status === 409)).toHaveLength(19);
  expect(book.list({ limit: 10 }).items).toHaveLength(1);
});

test('whoever follows and goes away is forgotten', async () => {
  const { url, farm } = await serveApi();
  const leaving = new AbortController();
  const answers = await Promise.all(
    Array.from({ length: 20 }, () => fetch(`${url}/v1/events`, { signal: leaving.signal })),
  );
  await Promise.all(answers.map((answer) => readEvents(answer).take(1)));
  expect(farm.listeners.size).toBe(20);
  leaving.abort();
  await waitUntil('nobody is listened for', () => farm.listeners.size === 0);
});
