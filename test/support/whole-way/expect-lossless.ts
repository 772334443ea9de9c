// What holds for a lossless deliverable beside that: every picture and every sample of the source, bit for bit.
import { expect } from 'vitest';
import { pictureHashes } from '../probe.ts';
import type { Delivered } from './expect-deliverable.ts';
import { gridFilters } from './reference.ts';
import { hashSamples, placeSound } from './sound.ts';

/** N1: the pictures of all segments together are those of one pass over the whole file. */
export async function expectSamePictures({ source, format, observed }: Delivered): Promise<void> {
  const filters = gridFilters(source, format);
  const outputOptions = filters.length === 0 ? [] : ['-vf', filters.join(',')];
  const due = await pictureHashes(source.path, { outputOptions });
  expect(observed.pictures.map(({ md5 }) => md5)).toEqual(due);
  expect(new Set(due).size, 'no two pictures of the reference are alike where none is held').toBeGreaterThan(
    due.length / 2,
  );
}

/** N4: every track's samples, and where they begin beside the picture, to Matroska's millisecond. */
export async function expectSameSound({ source, path }: Delivered): Promise<void> {
  for (const [track] of source.expected.audio.entries()) {
    expect(await hashSamples(path, track), `sound track ${track + 1}`).toBe(
      await hashSamples(source.path, track),
    );
  }
  if (source.expected.audio.length === 0) return;
  const [theirs, ours] = await Promise.all([placeSound(source.path), placeSound(path)]);
  expect(
    Math.abs(ours.startsSeconds - theirs.startsSeconds),
    'start of the sound, seconds',
  ).toBeLessThanOrEqual(0.0015);
}
