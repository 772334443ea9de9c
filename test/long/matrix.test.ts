// The whole way: every kind of source through a coordinator and two agents, in pieces of a second, and every deliverable
// held against the source by other programs than those that made it (N1–N5).
import { createHash } from 'node:crypto';
import { readFile, stat } from 'node:fs/promises';
import { beforeAll, describe, expect, test } from 'vitest';
import type { JobDetail } from '#shared/job.ts';
import { farmOfSuite } from '../support/farm/lifetimes.ts';
import { nameOnVolume } from '../support/farm/volumes.ts';
import { makeSource, type Source, type SourceName, sourceNames } from '../support/sources/make-source.ts';
import { losslessCases, lossyCases, type MatrixCase } from './matrix/cases.ts';
import {
  type Delivered,
  expectColours,
  expectExactGrid,
  expectLabels,
  expectLikeness,
  expectMillisecondGrid,
  expectSecondOpinion,
  expectSoundInPlace,
  expectStraightWay,
  expectTimecode,
  observeDelivered,
} from './matrix/expect-deliverable.ts';
import { expectSamePictures, expectSameSound } from './matrix/expect-lossless.ts';
import { madeFilm } from './matrix/reference.ts';

const formats = ['edit-proxy', 'review-copy', 'storage-copy', 'lossless-master'];
const agents = ['north', 'south'];
const farm = farmOfSuite({ agents, formats });

const submitMs = 600_000;
/** A job may wait for all that were submitted before it. */
const queueMs = 900_000;

/** What a source is before the farm meets it (N5). */
type Untouched = { readonly sha256: string; readonly modifiedMs: number };

const sources = new Map<SourceName, { source: Source; volumePath: string; before: Untouched }>();
const jobIds = new Map<string, Promise<string>>();

beforeAll(async () => {
  for (const name of sourceNames) {
    const source = await makeSource(name);
    const before = await lookAt(source.path);
    const volumePath = await farm().addSource(source.path, nameOnVolume(name, source.path));
    sources.set(name, { source, volumePath, before });
    const [first, ...others] = [...losslessCases, ...lossyCases].filter((one) => one.source === name);
    if (first === undefined) continue;
    const id = await submit(first);
    jobIds.set(keyOf(first), Promise.resolve(id));
    for (const other of others) {
      const submitted = whenPlanned(id).then(() => submit(other));
      // Told by the test that waits for it.
      submitted.catch(() => {});
      jobIds.set(keyOf(other), submitted);
    }
  }
}, submitMs);

describe.concurrent('a lossless master', () => {
  test.each(losslessCases)(
    'of $source',
    async (one) => {
      const delivered = await deliver(one);
      expectStraightWay(delivered);
      expectLabels(delivered);
      await expectTimecode(delivered);
      expectMillisecondGrid(delivered);
      await expectColours(delivered);
      await expectSamePictures(delivered);
      await expectSameSound(delivered);
    },
    queueMs,
  );
});

describe.concurrent('a deliverable', () => {
  test.each(lossyCases)(
    '$format of $source',
    async (one) => {
      const delivered = await deliver(one);
      expectStraightWay(delivered);
      expectLabels(delivered);
      await expectTimecode(delivered);
      if (delivered.format.wrapper === 'mkv') expectMillisecondGrid(delivered);
      else await expectExactGrid(delivered);
      await expectSecondOpinion(delivered);
      await expectColours(delivered);
      await expectLikeness(delivered);
      await expectSoundInPlace(delivered);
    },
    queueMs,
  );
});

describe('when all is done', () => {
  test('both machines have worked', async () => {
    const jobs = await Promise.all([...jobIds.values()].map(async (id) => farm().client.job(await id)));
    const frames = (machine: string) =>
      jobs
        .flatMap((job) => job.segments)
        .filter((segment) => segment.machine === machine && segment.state === 'done')
        .reduce((sum, segment) => sum + segment.framesDone, 0);
    for (const agent of agents) expect(frames(agent), `frames encoded on ${agent}`).toBeGreaterThan(1_000);
  });

  test('no source was touched', async () => {
    for (const { source, before } of sources.values())
      expect(await lookAt(source.path), source.name).toEqual(before);
    expect(sources.size).toBe(sourceNames.length);
  });
});

function keyOf({ source, format }: MatrixCase): string {
  return `${format} of ${source}`;
}

async function submit({ source, format }: MatrixCase): Promise<string> {
  const known = sources.get(source);
  if (known === undefined) throw new Error(`${source} was not placed`);
  const { id } = await farm().client.submit({ source: known.volumePath, format, to: `share:${format}` });
  return id;
}

/** By then the source is inspected, so that its other jobs need no inspection of their own. */
function whenPlanned(id: string): Promise<unknown> {
  const planned = () =>
    farm()
      .changes.of(id)
      .some(({ type }) => type === 'planned' || type === 'failed');
  return farm().changes.until(`${id} is planned`, planned, queueMs);
}

async function deliver(one: MatrixCase): Promise<Delivered> {
  const id = await jobIds.get(keyOf(one));
  const source = sources.get(one.source)?.source;
  if (id === undefined || source === undefined) throw new Error(`${keyOf(one)} was not submitted`);
  const job: JobDetail = await farm().waitFor(id, queueMs);
  expect(job, job.reason ?? '').toMatchObject({ state: 'delivered', reason: null });
  return observeDelivered(madeFilm(source), job, farm().deliverablePath(job));
}

async function lookAt(path: string): Promise<Untouched> {
  const [bytes, { mtimeMs }] = await Promise.all([readFile(path), stat(path)]);
  return { sha256: createHash('sha256').update(bytes).digest('hex'), modifiedMs: mtimeMs };
}
