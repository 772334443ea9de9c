// Footage from real cameras and old programs, damaged and odd, the whole way through the farm.
import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { execa } from 'execa';
import { beforeAll, describe, expect, test } from 'vitest';
import { farmOfSuite } from '../support/farm/lifetimes.ts';
import { listFiles, nameOnVolume } from '../support/farm/volumes.ts';
import { pictureHashes } from '../support/probe.ts';
import { type RealFootage, realFootage } from '../support/sources/real-footage.ts';
import { tempFolder } from '../support/temp-folder.ts';
import {
  expectColours,
  expectExactGrid,
  expectLabels,
  expectLikeness,
  expectMillisecondGrid,
  expectSoundInPlace,
  expectStraightWay,
  expectTimecode,
  observeDelivered,
} from './matrix/expect-deliverable.ts';
import { realFilm } from './matrix/reference.ts';

const farm = farmOfSuite({
  agents: ['north', 'south'],
  formats: ['edit-proxy', 'review-copy', 'storage-copy'],
});
const limitMs = 240_000;

let footage: RealFootage;
beforeAll(async () => {
  footage = await realFootage();
}, limitMs);

type Case = {
  readonly name: keyof RealFootage;
  readonly format: string;
  readonly rate: { readonly num: number; readonly den: number };
  readonly constantRate: boolean;
  readonly framesDue: number;
};

const cases: readonly Case[] = [
  {
    name: 'megamind',
    format: 'edit-proxy',
    rate: { num: 2997, den: 125 },
    constantRate: true,
    framesDue: 270,
  },
  {
    name: 'cup',
    format: 'storage-copy',
    rate: { num: 26_777, den: 1000 },
    constantRate: true,
    framesDue: 217,
  },
  { name: 'cup', format: 'edit-proxy', rate: { num: 26_777, den: 1000 }, constantRate: true, framesDue: 217 },
  // 68 pictures in half a minute, each standing for itself until the next comes.
  { name: 'tree', format: 'edit-proxy', rate: { num: 5, den: 1 }, constantRate: false, framesDue: 149 },
  // The time of the picture that no decoder accepts is filled by its neighbour.
  {
    name: 'box',
    format: 'review-copy',
    rate: { num: 30_000, den: 1001 },
    constantRate: false,
    framesDue: 456,
  },
];

describe.concurrent('real footage', () => {
  test.each(cases)('$format of $name', async ({ name, format, ...told }) => {
    const source = await farm().addSource(footage[name], nameOnVolume(`${name}-${format}`, footage[name]));
    const { id } = await farm().client.submit({ source, format, to: 'share:' });
    const job = await farm().waitFor(id);
    expect(job, job.reason ?? '').toMatchObject({ state: 'delivered', reason: null });
    const film = await realFilm(footage[name], told);
    const delivered = await observeDelivered(film, job, farm().deliverablePath(job));
    expectStraightWay(delivered);
    expectLabels(delivered);
    await expectTimecode(delivered);
    if (delivered.format.wrapper === 'mkv') expectMillisecondGrid(delivered);
    else await expectExactGrid(delivered);
    await expectColours(delivered);
    await expectLikeness(delivered);
    await expectSoundInPlace(delivered);
  });

  test('a review copy of a street, eight seconds cut out of the middle of a recording', async () => {
    const path = join(await tempFolder(), 'street.avi');
    const cut = ['-ss', '20', '-t', '8', '-i', footage.street, '-c', 'copy', path];
    await execa('ffmpeg', ['-nostdin', '-hide_banner', '-v', 'error', ...cut]);
    const source = await farm().addSource(path, 'street.avi');
    const { id } = await farm().client.submit({ source, format: 'review-copy', to: 'share:' });
    const job = await farm().waitFor(id);
    expect(job, job.reason ?? '').toMatchObject({ state: 'delivered', reason: null });
    const frames = (await pictureHashes(path)).length;
    const film = await realFilm(path, { rate: { num: 10, den: 1 }, constantRate: true, framesDue: frames });
    const delivered = await observeDelivered(film, job, farm().deliverablePath(job));
    await expectExactGrid(delivered);
    await expectLikeness(delivered);
  });
});

describe.concurrent('damaged footage', () => {
  test('is delivered as far as it decodes where the format says so, and told', async () => {
    const source = await placeDamaged('damaged-for-review.avi');
    const { id } = await farm().client.submit({ source, format: 'review-copy', to: 'share:' });
    const job = await farm().waitFor(id);
    expect(job, job.reason ?? '').toMatchObject({ state: 'delivered', reason: null });
    const report = await farm().client.report(id);
    expect(report.notes.join('\n')).toMatch(/damaged: .+\n(.*\n)*.*covered by the picture before them/);
    const film = await realFilm(join(farm().rushes, 'damaged-for-review.avi'), {
      rate: { num: 2997, den: 125 },
      constantRate: true,
      framesDue: 270,
    });
    const delivered = await observeDelivered(film, job, farm().deliverablePath(job));
    await expectExactGrid(delivered);
    await expectSoundInPlace(delivered);
  });

  test('is refused where the format takes only whole sources, and nothing is delivered', async () => {
    const source = await placeDamaged('damaged-for-cutting.avi');
    const { id } = await farm().client.submit({ source, format: 'edit-proxy', to: 'share:cutting' });
    const job = await farm().waitFor(id);
    expect(job.state, job.reason ?? '').toBe('failed');
    expect(job.failures.at(-1)?.code).toBe('source-damaged');
    expect(await listFiles(join(farm().share, 'cutting'))).toEqual([]);
  });

  // Its pictures decode without an error, so that nobody can know that they were others once.
  test('that decodes without a complaint is taken as it is', async () => {
    const source = await farm().addSource(footage.megamindDamaged, 'rewritten.avi');
    const { id } = await farm().client.submit({ source, format: 'review-copy', to: 'share:' });
    const job = await farm().waitFor(id);
    expect(job, job.reason ?? '').toMatchObject({ state: 'delivered', reason: null });
    const film = await realFilm(footage.megamindDamaged, {
      rate: { num: 30, den: 1 },
      constantRate: true,
      framesDue: 270,
    });
    const delivered = await observeDelivered(film, job, farm().deliverablePath(job));
    await expectExactGrid(delivered);
    await expectLikeness(delivered);
  });
});

/** A stretch in the middle of the pictures is overwritten, as a bad sector does; index and length stay right. */
async function placeDamaged(name: string): Promise<string> {
  const bytes = await readFile(footage.megamind);
  const middle = bytes.length >> 1;
  bytes.fill(0x55, middle, middle + 20_000);
  await writeFile(join(farm().rushes, name), bytes);
  return `rushes:${name}`;
}
