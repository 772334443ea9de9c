// A film of thirty seconds whose encoding takes long enough for a test to break into it. Kept beside the other sources.
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { execa } from 'execa';
import { makeFileOnce } from '../sources/make-file-once.ts';
import { sourcesFolder } from '../sources/make-source.ts';

export const longFilm = { frames: 750, grains: 30, name: 'film-of-thirty-seconds.mov' } as const;

const timeoutMs = 120_000;

export async function makeLongFilm(): Promise<string> {
  await mkdir(sourcesFolder, { recursive: true });
  const path = join(sourcesFolder, longFilm.name);
  await makeFileOnce(path, async (draftPath) => {
    const picture = [
      '-f',
      'lavfi',
      '-i',
      `testsrc2=size=640x360:rate=25,trim=end_frame=${longFilm.frames},format=yuv420p`,
    ];
    const sound = ['-f', 'lavfi', '-i', 'anoisesrc=color=pink:sample_rate=48000:duration=30:seed=3'];
    const encode = ['-c:v', 'libx264', '-preset', 'ultrafast', '-g', '50', '-c:a', 'pcm_s16le', '-f', 'mov'];
    await execa(
      'ffmpeg',
      ['-nostdin', '-hide_banner', '-v', 'error', ...picture, ...sound, ...encode, draftPath],
      {
        timeout: timeoutMs,
      },
    );
  });
  return path;
}
