// The check task on good films of all four house formats: everything holds, and says what it measured.
import { describe, expect, it } from 'vitest';
import { checkNames } from '#shared/check.ts';
import { checkJoined } from '../../agent/tasks/check-joined.ts';
import { joinGrains } from '../../agent/tasks/join-grains.ts';
import { makeSource } from '../support/sources/make-source.ts';
import { makeFilm } from '../support/tasks/make-film.ts';
import { formatNamed } from '../support/tasks/plan-source.ts';
import { makeRichSource } from '../support/tasks/rich-source.ts';
import { makeTaskWorld } from '../support/tasks/task-world.ts';

async function checksOf(source: string, format: string) {
  await using world = await makeTaskWorld();
  const film = await makeFilm(world, source, formatNamed(format));
  const { kind: _, dropped: __, ...joined } = await joinGrains(film.joinTask, world.context);
  const { checks } = await checkJoined(film.checkTask(joined), world.context);
  return checks;
}

describe('a good film', () => {
  it.each(['edit-proxy', 'review-copy', 'storage-copy', 'lossless-master'])(
    'passes every check as %s',
    async (format) => {
      const checks = await checksOf(await makeRichSource(), format);
      expect(checks.filter((check) => !check.ok)).toEqual([]);
      expect(checks.map((check) => check.name).toSorted()).toEqual(
        checkNames.filter((name) => name !== 'bytes').toSorted(),
      );
    },
  );

  it.each(['edit-proxy', 'review-copy', 'lossless-master'] as const)(
    'passes as %s when its sound begins before the picture',
    async (format) => {
      const source = await makeSource('sound-early-mov');
      const checks = await checksOf(source.path, format);
      expect(checks.filter((check) => !check.ok)).toEqual([]);
    },
  );

  it('passes without sound, and says so', async () => {
    const source = await makeSource('no-sound-mp4');
    const checks = await checksOf(source.path, 'review-copy');
    expect(checks.filter((check) => !check.ok)).toEqual([]);
    expect(checks.filter((check) => check.measured === 'no sound track')).toHaveLength(4);
  });
});
