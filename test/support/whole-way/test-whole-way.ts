// The whole way: sources through a coordinator and two agents, in pieces of a second, and every deliverable held against
// its source by other programs than those that made it (N1–N5).
import { beforeAll, describe, expect, test } from 'vitest';
import { farmOfSuite } from '../farm/lifetimes.ts';
import type { MatrixCase } from './cases.ts';
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
} from './expect-deliverable.ts';
import { expectSamePictures, expectSameSound } from './expect-lossless.ts';
import { createWorkList, queueMs } from './work-list.ts';

const formats = ['edit-proxy', 'review-copy', 'storage-copy', 'lossless-master'];
const agents = ['north', 'south'];
/** Far fewer than either machine's half, far more than a chance lease. */
const someFrames = 200;
/** Sources that don't exist yet are made meanwhile. */
const submitMs = 600_000;

/** Tests for every case. Call at the top of a file. */
export function testWholeWay(cases: readonly MatrixCase[]): void {
  const farm = farmOfSuite({ agents, formats });
  const work = createWorkList(farm);
  beforeAll(() => work.submitAll(cases), submitMs);

  describe.concurrent('a deliverable', () => {
    test.each(cases)(
      '$format of $source',
      async (one) => expectDeliverable(await work.deliver(one)),
      queueMs,
    );
  });

  describe('when all is done', () => {
    test('both machines have worked', async () => {
      const segments = (await work.jobs()).flatMap((job) => job.segments);
      for (const agent of agents) {
        const done = segments.filter(({ machine, state }) => machine === agent && state === 'done');
        const frames = done.reduce((sum, { framesDone }) => sum + framesDone, 0);
        expect(frames, `frames encoded on ${agent}`).toBeGreaterThan(someFrames);
      }
    });

    test('no source was touched', async () => {
      expect(await work.touchedSources()).toEqual([]);
    });
  });
}

async function expectDeliverable(delivered: Delivered): Promise<void> {
  expectStraightWay(delivered);
  expectLabels(delivered);
  await expectTimecode(delivered);
  await expectColours(delivered);
  if (delivered.format.wrapper === 'mkv') expectMillisecondGrid(delivered);
  else await expectExactGrid(delivered);
  if (delivered.format.checks.lossless) {
    await expectSamePictures(delivered);
    await expectSameSound(delivered);
    return;
  }
  await expectSecondOpinion(delivered);
  await expectLikeness(delivered);
  await expectSoundInPlace(delivered);
}
