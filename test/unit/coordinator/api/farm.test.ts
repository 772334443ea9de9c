// What admins look at over HTTP: machines, lanes, volumes, formats, metrics.
import { expect, test } from 'vitest';
import { builtInFormats } from '#shared/house-formats.ts';
import { createApiWorld, submission } from '../../../support/api/api-world.ts';
import { sampleMachine } from '../../../support/api/sample-machine.ts';
import { sampleFailure } from '../../../support/job-builders.ts';
import { storyUpTo } from '../../../support/job-story.ts';

test('machines are told as the farm knows them', async () => {
  const { get, farm } = await createApiWorld();
  expect(await (await get('/v1/machines')).json()).toEqual({ items: [] });
  farm.list = [sampleMachine()];
  expect(await (await get('/v1/machines')).json()).toEqual({ items: [sampleMachine()] });
});

test('lanes carry their machine, and the reason when they are not proven', async () => {
  const { get, farm } = await createApiWorld();
  farm.list = [sampleMachine(), sampleMachine({ name: 'south', alive: false })];
  expect(await (await get('/v1/lanes')).json()).toMatchObject({
    items: [
      { machine: 'north', alive: true, id: 'dnxhd', proven: true },
      { machine: 'north', id: 'hevc_nvenc', proven: false, reason: 'no driver' },
      { machine: 'south', alive: false, id: 'dnxhd' },
      { machine: 'south', id: 'hevc_nvenc' },
    ],
  });
});

test('volumes say which living machines reach them', async () => {
  const { get, farm, volumes } = await createApiWorld();
  farm.list = [sampleMachine(), sampleMachine({ name: 'south', alive: false })];
  expect(await (await get('/v1/volumes')).json()).toEqual({
    items: [
      {
        name: 'rushes',
        path: volumes.rushes,
        machines: [{ machine: 'north', readable: true, writable: false }],
      },
      { name: 'share', path: volumes.share, machines: [] },
    ],
  });
});

test('house formats are listed and found by name', async () => {
  const { get } = await createApiWorld();
  expect(await (await get('/v1/formats')).json()).toEqual({ items: builtInFormats });
  expect(await (await get('/v1/formats/review-copy')).json()).toMatchObject({
    name: 'review-copy',
    version: 1,
  });
  expect((await get('/v1/formats/betamax')).status).toBe(404);
});

test('the forecast of an idle farm is that there is nothing to do', async () => {
  const { get } = await createApiWorld();
  expect(await (await get('/v1/forecast')).json()).toMatchObject({ jobs: [], secondsLeft: 0 });
});

/** Lines of the Prometheus text that are ours, without help and types. */
async function scrape(get: (path: string) => Response | Promise<Response>): Promise<string[]> {
  const answer = await get('/metrics');
  expect(answer.headers.get('Content-Type')).toMatch(/^text\/plain; version=/);
  return (await answer.text()).split('\n').filter((line) => line.startsWith('nightmill_'));
}

test('metrics follow the jobs from start to end', async () => {
  const { get, post, book } = await createApiWorld();
  await post('/v1/jobs', submission);
  await post('/v1/jobs', { ...submission, source: 'rushes:B002.mov' });
  for (const event of storyUpTo('delivered')) book.record('jtest000001', event);
  book.record('jtest000002', { type: 'held', reason: sampleFailure() });
  expect(await scrape(get)).toEqual(
    expect.arrayContaining([
      'nightmill_build_info{version="1.2.3"} 1',
      'nightmill_jobs{state="held"} 1',
      'nightmill_jobs{state="received"} 0',
      'nightmill_jobs_ended_total{state="delivered"} 1',
      'nightmill_jobs_ended_total{state="held"} 1',
      'nightmill_frames_encoded_total 240',
      'nightmill_grains_stored_total 5',
      'nightmill_grain_bytes_stored_total 6170',
      'nightmill_attempts_total{kind="encode",outcome="done"} 1',
      'nightmill_attempts_total{kind="deliver",outcome="done"} 1',
    ]),
  );
});

test('attempts that a cancelled job leaves behind are counted as stopped', async () => {
  const { get, post, book } = await createApiWorld();
  await post('/v1/jobs', submission);
  for (const event of storyUpTo('encoding')) book.record('jtest000001', event);
  book.record('jtest000001', { type: 'cancelled' });
  expect(await scrape(get)).toContain('nightmill_attempts_total{kind="encode",outcome="stopped"} 1');
});

test('metrics name living lanes only, and requests by their route', async () => {
  const { get, post, farm } = await createApiWorld();
  farm.list = [sampleMachine(), sampleMachine({ name: 'south', alive: false })];
  await post('/v1/jobs', submission);
  await get('/v1/jobs/jtest000001');
  await get('/v1/whatever/it/is');
  const lines = await scrape(get);
  expect(lines.filter((line) => line.startsWith('nightmill_lane_rate_frames_per_second'))).toEqual([
    'nightmill_lane_rate_frames_per_second{machine="north",lane="dnxhd",format="edit-proxy@1"} 60',
  ]);
  expect(lines).toEqual(
    expect.arrayContaining(['nightmill_machines{alive="true"} 1', 'nightmill_machines{alive="false"} 1']),
  );
  const counts = lines.filter((line) => line.startsWith('nightmill_http_request_duration_seconds_count'));
  expect(counts).toEqual(
    expect.arrayContaining([
      expect.stringContaining('method="GET",route="/v1/jobs/:id",status="200"'),
      expect.stringContaining('route="none",status="404"'),
    ]),
  );
  expect(lines.join('\n')).not.toContain('whatever');
});
