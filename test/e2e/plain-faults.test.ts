// The plain accidents of a night: a machine dies, the coordinator dies, somebody changes their mind. The work ends as it
// would have, and nothing that was finished is made again (N7, N8).
import { readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import type { JobDetail } from '#shared/job.ts';
import { grainsLeft, type LeaseStory, tellEncoding, workDoneTwice } from '../support/farm/encoding-story.ts';
import type { Farm } from '../support/farm/farm.ts';
import { farmOfSuite, startFarm } from '../support/farm/lifetimes.ts';
import { longFilm, makeLongFilm } from '../support/farm/long-film.ts';
import { listProcesses } from '../support/farm/processes.ts';
import { listFiles } from '../support/farm/volumes.ts';
import { pictureHashes } from '../support/probe.ts';
import { makeSource } from '../support/sources/make-source.ts';
import { hashSamples } from '../support/whole-way/sound.ts';

const format = 'lossless-master';
const grainFrames = 25;
const soonMs = 60_000;
const farmOfTwo = { agents: ['north', 'south'], formats: [format] };

describe('in the middle of a segment', () => {
  test('a machine is killed: another takes over from the grain that was open', async () => {
    const farm = await startFarm(farmOfTwo);
    const { id } = await submitLongFilm(farm);
    const broken = await midSegment(farm, id, 'north');
    expect(await farm.killAgent('north', 'SIGKILL')).toBe('SIGKILL');

    const job = await farm.waitFor(id);
    await expectRight(farm, job);
    const leases = story(farm, id);
    expect(workDoneTwice(leases, grainFrames)).toEqual([]);
    const lost = leases.find(({ attempt }) => attempt === broken.attempt);
    expect(lost).toMatchObject({ how: 'lost', machine: 'north' });
    expect(job.failures).toMatchObject([{ code: 'agent-lost', machine: 'north' }]);
    // What it had not brought in was given out again, once, and nothing else was.
    const left = grainsLeft(lost ?? broken, grainFrames);
    expect(left).not.toEqual([]);
    expect(leases.flatMap((lease) => grainsGiven(lease)).length).toBe(longFilm.grains + left.length);
    // It sweeps its scratch when it comes back.
    await farm.startAgent('north');
  });

  test('a machine is stopped in order: it ends at once, and another goes on', async () => {
    const farm = await startFarm(farmOfTwo);
    const { id } = await submitLongFilm(farm);
    await midSegment(farm, id, 'south');
    expect(await farm.killAgent('south', 'SIGTERM')).toBe('code 0');

    const job = await farm.waitFor(id);
    await expectRight(farm, job);
    expect(workDoneTwice(story(farm, id), grainFrames)).toEqual([]);
    expect(new Set(story(farm, id).map(({ machine }) => machine))).toEqual(new Set(['north', 'south']));
  });

  test('the coordinator is killed and started again: the machines go on where they are', async () => {
    const farm = await startFarm(farmOfTwo);
    const { id } = await submitLongFilm(farm);
    const running = await midSegment(farm, id, 'north');
    expect(await farm.killCoordinator('SIGKILL')).toBe('SIGKILL');
    await farm.startCoordinator();

    const job = await farm.waitFor(id);
    await expectRight(farm, job);
    const leases = story(farm, id);
    expect(workDoneTwice(leases, grainFrames)).toEqual([]);
    expect(leases.find(({ attempt }) => attempt === running.attempt)?.how).toBe('done');
    expect(leases.flatMap((lease) => grainsGiven(lease)).length).toBe(longFilm.grains);
    // The helper is the coordinator's child and died with it; on a busy machine its task is given up before it is back.
    expect(job.failures.filter(({ machine }) => machine !== 'helper')).toEqual([]);
  });

  test('the job is cancelled: its programs end, and nothing of it is left', async () => {
    const farm = await startFarm(farmOfTwo);
    const { id } = await submitLongFilm(farm);
    await midSegment(farm, id, 'north');
    expect(await farm.client.cancel(id)).toMatchObject({ state: 'cancelled' });

    const isGone = async () => !(await listProcesses()).some(({ words }) => words.includes(id));
    await farm.changes.until('no program works for it', isGone, soonMs);
    const isSwept = async () => !(await readdir(join(farm.dataFolder, 'granary'))).includes(id);
    await farm.changes.until('its pieces are gone', isSwept, soonMs);
    expect(await listFiles(farm.share)).toEqual([]);
    expect(await farm.client.job(id)).toMatchObject({ state: 'cancelled', reason: null });
  });

  test('its name is taken meanwhile: the finished work waits for a person, and retry delivers it', async () => {
    const farm = await startFarm(farmOfTwo);
    const { id, deliverable } = await submitLongFilm(farm);
    await midSegment(farm, id, 'north');
    const path = await farm.putOnShare(deliverable.slice('share:'.length), 'somebody else’s');
    const held = await farm.waitFor(id);
    expect(held.state).toBe('held');
    expect(held.failures.at(-1)?.code).toBe('destination-exists');
    expect(await listFiles(farm.share)).toEqual([deliverable.slice('share:'.length)]);

    await rm(path);
    const encoded = story(farm, id).length;
    await farm.client.retry(id);
    await expectRight(farm, await farm.waitFor(id));
    expect(story(farm, id), 'nothing was encoded again').toHaveLength(encoded);
  });
});

describe('a submission', () => {
  const farm = farmOfSuite({ agents: ['north'], formats: ['edit-proxy'] });
  const film = 'three-seconds-mp4';

  async function placeFilm(name: string): Promise<string> {
    return farm().addSource((await makeSource(film)).path, name);
  }

  test('of half a film fails, and can be retried when the whole one is there', async () => {
    const whole = await readFile((await makeSource(film)).path);
    const path = join(farm().rushes, 'still-copying.mp4');
    await writeFile(path, whole.subarray(0, whole.length >> 1));
    const job = { source: 'rushes:still-copying.mp4', format: 'edit-proxy', to: 'share:' };
    const { id } = await farm().client.submit(job);
    expect(await farm().waitFor(id)).toMatchObject({
      state: 'failed',
      failures: [{ code: 'source-truncated' }],
    });

    await writeFile(path, whole);
    await farm().client.retry(id);
    const delivered = await farm().waitFor(id);
    expect(delivered, delivered.reason ?? '').toMatchObject({ state: 'delivered', reason: null });
    expect(await pictureHashes(farm().deliverablePath(delivered))).toHaveLength(75);
  });

  test('that is sent again with its key is the same job, even at the same time', async () => {
    const job = { source: await placeFilm('once.mp4'), format: 'edit-proxy', to: 'share:' };
    const jobs = await Promise.all([1, 2, 3].map(() => farm().client.submit(job, 'day03-once')));
    const [{ id } = { id: '' }] = jobs;
    expect(jobs.map((one) => one.id)).toEqual([id, id, id]);
    expect(await farm().client.refusalOf({ ...job, priority: 1 }, 'day03-once')).toMatchObject({
      type: 'urn:nightmill:problem:key-reused',
    });
    await farm().waitFor(id);
    expect(await farm().client.submit(job, 'day03-once')).toMatchObject({ id, state: 'delivered' });
    const all = await farm().client.jobs();
    expect(all.filter(({ source }) => source === job.source)).toHaveLength(1);
  });

  test('of many at once: each is taken or refused for itself', async () => {
    const to = 'share:batch';
    const [first, second] = [await placeFilm('first.mp4'), await placeFilm('second.mp4')];
    const jobs = [first, 'rushes:nothing.mp4', second, first].map((source) => ({
      source,
      format: 'edit-proxy',
      to,
    }));
    const batch = await farm().client.submitBatch(jobs);
    expect(batch.refused.map(({ position, problem }) => [position, problem.type])).toEqual([
      [1, 'urn:nightmill:problem:source-missing'],
      [3, 'urn:nightmill:problem:destination-exists'],
    ]);
    for (const { id } of batch.jobs) {
      expect(await farm().waitFor(id)).toMatchObject({ batchId: batch.id, state: 'delivered' });
    }
    expect(await listFiles(join(farm().share, 'batch'))).toEqual(['first.mov', 'second.mov']);
  });
});

async function submitLongFilm(farm: Farm): Promise<JobDetail> {
  const source = await farm.addSource(await makeLongFilm(), longFilm.name);
  return farm.client.submit({ source, format, to: 'share:' });
}

/** Resolves when the machine has brought in a grain of a lease and has more of it before it. */
function midSegment(farm: Farm, jobId: string, machine: string): Promise<LeaseStory> {
  const look = () =>
    story(farm, jobId).find(
      (lease) =>
        lease.machine === machine &&
        lease.how === 'open' &&
        lease.grains.length > 0 &&
        grainsLeft(lease, grainFrames).length > 1,
    );
  return farm.changes.until(`${machine} is in the middle of a segment`, look, soonMs);
}

function story(farm: Farm, jobId: string): LeaseStory[] {
  return tellEncoding(farm.changes.of(jobId));
}

function grainsGiven({ first, end }: LeaseStory): number[] {
  return Array.from({ length: Math.ceil((end - first) / grainFrames) }, (_, at) => first / grainFrames + at);
}

/** Delivered, checked, and the source's pictures and sound bit for bit (N1, N4). */
async function expectRight(farm: Farm, job: JobDetail): Promise<void> {
  expect(job, job.reason ?? '').toMatchObject({
    state: 'delivered',
    grains: { stored: longFilm.grains, total: longFilm.grains },
  });
  expect(job.checks.filter((check) => !check.ok)).toEqual([]);
  const path = farm.deliverablePath(job);
  const { hashes, samples } = await sourceHashes();
  expect(await pictureHashes(path)).toEqual(hashes);
  expect(await hashSamples(path, 0)).toBe(samples);
}

type Hashes = { readonly hashes: readonly string[]; readonly samples: string };
let known: Promise<Hashes> | null = null;

function sourceHashes(): Promise<Hashes> {
  known ??= makeLongFilm().then(async (path) => ({
    hashes: await pictureHashes(path),
    samples: await hashSamples(path, 0),
  }));
  return known;
}
