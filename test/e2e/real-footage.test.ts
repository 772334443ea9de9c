// Footage from real cameras and old programs, damaged and odd, the whole way through the farm.
import { join } from 'node:path';
import { execa } from 'execa';
import { beforeAll, describe, expect, test } from 'vitest';
import { farmOfSuite } from '../support/farm/lifetimes.ts';
import { listFiles, nameOnVolume } from '../support/farm/volumes.ts';
import { pictureHashes } from '../support/probe.ts';
import { type RealFootage, realFootage } from '../support/sources/real-footage.ts';
import {
  type Delivered,
  expectColours,
  expectExactGrid,
  expectLabels,
  expectLikeness,
  expectMillisecondGrid,
  expectSoundInPlace,
  expectStraightWay,
  expectTimecode,
  observeDelivered,
} from '../support/whole-way/expect-deliverable.ts';
import { type Film, realFilm, type Told } from '../support/whole-way/reference.ts';

const farm = farmOfSuite({
  agents: ['north', 'south'],
  formats: ['edit-proxy', 'review-copy', 'storage-copy'],
});
const limitMs = 600_000;

let footage: RealFootage;
beforeAll(async () => {
  footage = await realFootage();
}, limitMs);

type Name = Exclude<keyof RealFootage, 'box'>;

const told: Readonly<Record<Name, Told>> = {
  megamind: {
    rate: ratio(2997, 125),
    constantRate: true,
    framesDue: 270,
    width: 720,
    height: 528,
    audio: [2],
  },
  megamindDamaged: {
    rate: ratio(30),
    constantRate: true,
    framesDue: 270,
    width: 720,
    height: 528,
    audio: [],
  },
  // 68 pictures in half a minute, each standing for itself until the next comes.
  tree: { rate: ratio(5), constantRate: false, framesDue: 149, width: 320, height: 240, audio: [] },
  street: { rate: ratio(10), constantRate: true, framesDue: 795, width: 768, height: 576, audio: [] },
  cup: { rate: ratio(26_777, 1000), constantRate: true, framesDue: 217, width: 640, height: 480, audio: [2] },
};

const cases: readonly { readonly name: Name; readonly format: string }[] = [
  { name: 'megamind', format: 'review-copy' },
  { name: 'cup', format: 'storage-copy' },
  { name: 'cup', format: 'edit-proxy' },
  { name: 'tree', format: 'edit-proxy' },
  // Its pictures were others once, but decode without a complaint, so that nobody can know.
  { name: 'megamindDamaged', format: 'edit-proxy' },
];

describe.concurrent('real footage', () => {
  test.each(cases)(
    '$format of $name',
    async ({ name, format }) => {
      const path = footage[name];
      const source = await farm().addSource(path, nameOnVolume(`${name}-${format}`, path));
      const { id } = await farm().client.submit({ source, format, to: 'share:' });
      const delivered = await expectDelivered(id, realFilm(path, told[name]));
      expectStraightWay(delivered);
      expectLabels(delivered);
      await expectTimecode(delivered);
      await expectColours(delivered);
      await expectSoundInPlace(delivered);
    },
    limitMs,
  );

  test(
    'review-copy of a street, eight seconds out of the middle of a recording',
    async () => {
      const path = join(farm().folder, 'street.avi');
      const cut = ['-ss', '20', '-t', '8', '-i', footage.street, '-c', 'copy', path];
      await execa('ffmpeg', ['-nostdin', '-hide_banner', '-v', 'error', ...cut]);
      const source = await farm().addSource(path, 'street.avi');
      const { id } = await farm().client.submit({ source, format: 'review-copy', to: 'share:' });
      const framesDue = (await pictureHashes(path)).length;
      await expectDelivered(id, realFilm(path, { ...told.street, framesDue }));
    },
    limitMs,
  );
});

describe.concurrent('damaged footage', () => {
  test(
    'is delivered as far as it decodes where the format says so, and told',
    async () => {
      const source = await placeDamaged('damaged-for-review.avi');
      const { id } = await farm().client.submit({ source, format: 'review-copy', to: 'share:' });
      const job = await farm().waitFor(id, limitMs);
      expect(job, job.reason ?? '').toMatchObject({ state: 'delivered', reason: null });
      const { notes } = await farm().client.report(id);
      expect(notes).toContainEqual(expect.stringMatching(/^damaged: 1 of 270 pictures do not decode/));
      expect(notes).toContainEqual(expect.stringContaining('covered by the picture before them'));
      expect(await pictureHashes(farm().deliverablePath(job))).toHaveLength(270);
    },
    limitMs,
  );

  test.each([
    ['overwritten in the middle', () => placeDamaged('damaged-for-cutting.avi')],
    ['begun with a picture that no decoder accepts', () => farm().addSource(footage.box, 'box.mp4')],
  ] as const)(
    'is refused where the format takes only whole sources, and nothing is delivered: %s',
    async (_, place) => {
      const { id } = await farm().client.submit({
        source: await place(),
        format: 'edit-proxy',
        to: 'share:cutting',
      });
      const job = await farm().waitFor(id, limitMs);
      expect(job.state, job.reason ?? '').toBe('failed');
      expect(job.failures.at(-1)?.code).toBe('source-damaged');
      expect(await listFiles(join(farm().share, 'cutting'))).toEqual([]);
    },
    limitMs,
  );
});

async function expectDelivered(jobId: string, film: Film): Promise<Delivered> {
  const job = await farm().waitFor(jobId, limitMs);
  expect(job, job.reason ?? '').toMatchObject({ state: 'delivered', reason: null });
  const delivered = await observeDelivered(film, job, farm().deliverablePath(job));
  if (delivered.format.wrapper === 'mkv') expectMillisecondGrid(delivered);
  else await expectExactGrid(delivered);
  await expectLikeness(delivered);
  return delivered;
}

/** Bits turned over in five packets in the middle, as a bad sector does; header, index and sizes stay right. */
async function placeDamaged(name: string): Promise<string> {
  const noise = ['-bsf:v', "noise=amount='between(n,100,104)*100'", join(farm().rushes, name)];
  const copy = ['-i', footage.megamind, '-map', '0', '-c', 'copy', ...noise];
  await execa('ffmpeg', ['-nostdin', '-hide_banner', '-v', 'error', ...copy]);
  return `rushes:${name}`;
}

function ratio(num: number, den = 1): Told['rate'] {
  return { num, den };
}
