// Real footage in the formats that take long; test/e2e/real-footage.test.ts has the rest.
import { join } from 'node:path';
import { execa } from 'execa';
import { beforeAll, describe, test } from 'vitest';
import { farmOfSuite } from '../support/farm/lifetimes.ts';
import { pictureHashes } from '../support/probe.ts';
import { type RealFootage, realFootage } from '../support/sources/real-footage.ts';
import { expectDelivered, expectFootage, footageMs, told } from '../support/whole-way/real-films.ts';
import { realFilm } from '../support/whole-way/reference.ts';

const farm = farmOfSuite({ agents: ['north', 'south'], formats: ['review-copy', 'storage-copy'] });

let footage: RealFootage;
beforeAll(async () => {
  footage = await realFootage();
}, footageMs);

describe.concurrent('real footage', () => {
  test.each([
    { name: 'megamind', format: 'review-copy' },
    { name: 'cup', format: 'storage-copy' },
  ] as const)('$format of $name', (one) => expectFootage(farm(), footage, one), footageMs);

  test(
    'review-copy of a street, eight seconds out of the middle of a recording',
    async () => {
      const path = join(farm().folder, 'street.avi');
      const cut = ['-ss', '20', '-t', '8', '-i', footage.street, '-c', 'copy', path];
      await execa('ffmpeg', ['-nostdin', '-hide_banner', '-v', 'error', ...cut]);
      const source = await farm().addSource(path, 'street.avi');
      const { id } = await farm().client.submit({ source, format: 'review-copy', to: 'share:' });
      const framesDue = (await pictureHashes(path)).length;
      await expectDelivered(farm(), id, realFilm(path, { ...told.street, framesDue }));
    },
    footageMs,
  );
});
