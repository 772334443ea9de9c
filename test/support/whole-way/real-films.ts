// Real footage through a farm: what is told of each film, and the deliverable held against that.
import { expect } from 'vitest';
import type { Farm } from '../farm/farm.ts';
import { nameOnVolume } from '../farm/volumes.ts';
import type { RealFootage } from '../sources/real-footage.ts';
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
} from './expect-deliverable.ts';
import { type Film, realFilm, type Told } from './reference.ts';

/** The farm works on all films of a file at once. */
export const footageMs = 600_000;

export type FootageName = Exclude<keyof RealFootage, 'box'>;

export const told: Readonly<Record<FootageName, Told>> = {
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

export async function expectFootage(
  farm: Farm,
  footage: RealFootage,
  { name, format }: { readonly name: FootageName; readonly format: string },
): Promise<void> {
  const path = footage[name];
  const source = await farm.addSource(path, nameOnVolume(`${name}-${format}`, path));
  const { id } = await farm.client.submit({ source, format, to: 'share:' });
  const delivered = await expectDelivered(farm, id, realFilm(path, told[name]));
  expectStraightWay(delivered);
  expectLabels(delivered);
  await expectTimecode(delivered);
  await expectColours(delivered);
  await expectSoundInPlace(delivered);
}

export async function expectDelivered(farm: Farm, jobId: string, film: Film): Promise<Delivered> {
  const job = await farm.waitFor(jobId, footageMs);
  expect(job, job.reason ?? '').toMatchObject({ state: 'delivered', reason: null });
  const delivered = await observeDelivered(film, job, farm.deliverablePath(job));
  if (delivered.format.wrapper === 'mkv') expectMillisecondGrid(delivered);
  else await expectExactGrid(delivered);
  await expectLikeness(delivered);
  return delivered;
}

function ratio(num: number, den = 1): Told['rate'] {
  return { num, den };
}
