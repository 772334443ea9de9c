// What the work is compared with: one ffmpeg process makes the deliverable in one pass, picture and sound, with the very
// settings of the house format, and checks nothing.
import os from 'node:os';
import { execa } from 'execa';
import type { HouseFormat } from '#shared/house-format.ts';
import { encoderArgs } from '../../../agent/media/encoder-args.ts';
import { filmRate } from './bench-film.ts';

const limitMs = 30 * 60_000;

/** Seconds that it took. `format`: an H.265 one whose picture the film fits without scaling. */
export async function runPlainPass(film: string, format: HouseFormat, output: string): Promise<number> {
  const startedMs = performance.now();
  const running = execa('ffmpeg', plainArgs(film, format, output), { stdin: 'ignore', timeout: limitMs });
  // As the agents' encoders: where others use the machine at the same time, both get as little of it.
  if (running.pid !== undefined) os.setPriority(running.pid, os.constants.priority.PRIORITY_LOW);
  await running;
  return (performance.now() - startedMs) / 1000;
}

function plainArgs(film: string, { picture, sound }: HouseFormat, output: string): string[] {
  const way = { pixelFormat: picture.pixelFormat, hdr: null, fieldOrder: 'progressive' } as const;
  const encoder = encoderArgs({ spec: picture, way, gopFrames: Math.round(picture.gopSeconds * filmRate) });
  return [
    ['-hide_banner', '-nostdin', '-loglevel', 'error', '-y', '-i', `file:${film}`],
    ['-map', '0:v:0', '-map', '0:a:0', ...encoder],
    ['-c:a', 'aac', '-b:a', String(2 * (sound.bitsPerChannel ?? 96_000))],
    ['-movflags', '+faststart+write_colr', `file:${output}`],
  ].flat();
}
