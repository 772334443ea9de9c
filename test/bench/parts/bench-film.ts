// The film of a benchmark: 720 lines at 24 frames/s, calm and restless by turns, H.264 with groups of pictures of a second,
// as cameras write them, and B-frames, stereo sound. Kept between runs.
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { execa } from 'execa';
import { makeFileOnce } from '../../support/sources/make-file-once.ts';

const folder = fileURLToPath(new URL('../../../node_modules/.cache/nightmill-bench', import.meta.url));
const limitMs = 30 * 60_000;

export const filmRate = 24;

/** Absolute path of a film of so many whole seconds. */
export async function makeBenchFilm(seconds: number): Promise<string> {
  await mkdir(folder, { recursive: true });
  const file = join(folder, `film-2-${seconds}s.mp4`);
  await makeFileOnce(file, async (draft) => {
    await execa('ffmpeg', filmArgs(seconds, draft), { stdin: 'ignore', timeout: limitMs });
  });
  return file;
}

/** A cut every five seconds: a moving test picture, the same with grain, a still. */
function filmArgs(seconds: number, file: string): string[] {
  const turn = (index: number) => `enable=between(mod(t\\,15)\\,${5 * index}\\,${5 * index + 4.999})`;
  const pictures = [
    `testsrc2=size=1280x720:rate=${filmRate}:duration=${seconds}`,
    `noise=alls=6:allf=t:${turn(1)}`,
    `drawbox=color=steelblue:t=fill:${turn(2)}`,
    `drawgrid=w=80:h=80:color=white:${turn(2)}`,
  ];
  return [
    ['-hide_banner', '-nostdin', '-loglevel', 'error', '-y'],
    ['-f', 'lavfi', '-i', pictures.join(',')],
    ['-f', 'lavfi', '-i', `anoisesrc=color=pink:amplitude=0.2:seed=1:sample_rate=48000:duration=${seconds}`],
    ['-map', '0:v', '-map', '1:a', '-ac', '2', '-c:a', 'aac', '-c:v', 'libx264', '-preset', 'veryfast'],
    ['-crf', '21', '-bf', '2', '-g', String(filmRate), '-pix_fmt', 'yuv420p', '-f', 'mp4', `file:${file}`],
  ].flat();
}
