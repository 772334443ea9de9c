// Joined files with one thing wrong on purpose, made from a good one without the product's help.
import path from 'node:path';
import { execa } from 'execa';
import type { GranaryFile } from '#shared/task.ts';
import type { TaskWorld } from './task-world.ts';

export type BadCopy = {
  /** Options before the second reading of the same file; the first is always there. */
  readonly second?: readonly string[];
  /** Options after the inputs; pictures and sound are copied unless they say otherwise. */
  readonly options?: readonly string[];
  readonly maps?: readonly string[];
};

let made = 0;

/** A copy of `good` in the granary with something changed on the way. */
export async function makeBadCopy(
  world: TaskWorld,
  good: string,
  { second, options = [], maps = ['0:v:0', '0:a?'] }: BadCopy,
): Promise<GranaryFile> {
  made += 1;
  const name = `bad-${made}${path.extname(good)}`;
  const file = path.join(world.granary, name);
  const clocks = good.endsWith('.mkv')
    ? []
    : ['-movie_timescale', '240000', '-movflags', '+faststart+write_colr'];
  await execa(
    'ffmpeg',
    [
      ...['-nostdin', '-loglevel', 'error', '-y', '-i', good],
      ...(second === undefined ? [] : [...second, '-i', good]),
      ...maps.flatMap((map) => ['-map', map]),
      ...['-c', 'copy', ...clocks, ...options, file],
    ],
    { timeout: 60_000 },
  );
  return world.keep(file, name);
}
