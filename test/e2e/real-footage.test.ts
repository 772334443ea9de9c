// Footage from real cameras and old programs, damaged and odd, the whole way through the farm; test/long/ has more of it.
import { join } from 'node:path';
import { execa } from 'execa';
import { beforeAll, describe, expect, test } from 'vitest';
import { farmOfSuite } from '../support/farm/lifetimes.ts';
import { listFiles } from '../support/farm/volumes.ts';
import { pictureHashes } from '../support/probe.ts';
import { type RealFootage, realFootage } from '../support/sources/real-footage.ts';
import { expectFootage, footageMs } from '../support/whole-way/real-films.ts';

const farm = farmOfSuite({ agents: ['north', 'south'], formats: ['edit-proxy', 'review-copy'] });

let footage: RealFootage;
beforeAll(async () => {
  footage = await realFootage();
}, footageMs);

describe.concurrent('real footage', () => {
  // The last one's pictures were others once, but decode without a complaint, so that nobody can know.
  test.each(['cup', 'tree', 'megamindDamaged'] as const)(
    'edit-proxy of %s',
    (name) => expectFootage(farm(), footage, { name, format: 'edit-proxy' }),
    footageMs,
  );
});

describe.concurrent('damaged footage', () => {
  test(
    'is delivered as far as it decodes where the format says so, and told',
    async () => {
      const source = await placeDamaged('damaged-for-review.avi');
      const { id } = await farm().client.submit({ source, format: 'review-copy', to: 'share:' });
      const job = await farm().waitFor(id, footageMs);
      expect(job, job.reason ?? '').toMatchObject({ state: 'delivered', reason: null });
      const { notes } = await farm().client.report(id);
      expect(notes).toContainEqual(expect.stringMatching(/^damaged: 1 of 270 pictures do not decode/));
      expect(notes).toContainEqual(expect.stringContaining('covered by the picture before them'));
      expect(await pictureHashes(farm().deliverablePath(job))).toHaveLength(270);
    },
    footageMs,
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
      const job = await farm().waitFor(id, footageMs);
      expect(job.state, job.reason ?? '').toBe('failed');
      expect(job.failures.at(-1)?.code).toBe('source-damaged');
      expect(await listFiles(join(farm().share, 'cutting'))).toEqual([]);
    },
    footageMs,
  );
});

/** Bits turned over in five packets in the middle, as a bad sector does; header, index and sizes stay right. */
async function placeDamaged(name: string): Promise<string> {
  const noise = ['-bsf:v', "noise=amount='between(n,100,104)*100'", join(farm().rushes, name)];
  const copy = ['-i', footage.megamind, '-map', '0', '-c', 'copy', ...noise];
  await execa('ffmpeg', ['-nostdin', '-hide_banner', '-v', 'error', ...copy]);
  return `rushes:${name}`;
}
