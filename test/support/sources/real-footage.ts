// Real camera footage from Debian's package `opencv-doc`: what no generator thinks of, damage included.
import { createReadStream, createWriteStream } from 'node:fs';
import { mkdir } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { pipeline } from 'node:stream/promises';
import { createGunzip } from 'node:zlib';
import { execa } from 'execa';
import { makeFileOnce } from './make-file-once.ts';
import { sourcesFolder } from './make-source.ts';

export type RealFootage = {
  /** MPEG-4 Part 2 at 2997/125 with AC-3, 270 pictures; the last sound frame is incomplete. */
  readonly megamind: string;
  /** The same pictures, badly rewritten: rate given as 30, pictures without presentation times, no sound. */
  readonly megamindDamaged: string;
  /** Cinepak; the header counts 444 frames at 1000000/66667, 68 are there. */
  readonly tree: string;
  /** A street seen by a fixed camera at 10 frames/s, 795 pictures, no sound. */
  readonly street: string;
  /** H.264 that begins with a picture no decoder accepts: 456 packets, 455 pictures. */
  readonly box: string;
  /** H.264 at 26777/1000 frames/s. */
  readonly cup: string;
};

/** Paths of the footage; files that Debian ships compressed are unpacked beside the made sources. */
export async function realFootage(folder: string = sourcesFolder): Promise<RealFootage> {
  const installed = await packageFiles();
  return {
    megamind: find(installed, 'Megamind.avi'),
    megamindDamaged: find(installed, 'Megamind_bugy.avi'),
    tree: find(installed, 'tree.avi'),
    street: find(installed, 'vtest.avi'),
    box: await unpack(find(installed, 'box.mp4.gz'), folder),
    cup: await unpack(find(installed, 'cup.mp4.gz'), folder),
  };
}

async function packageFiles(): Promise<readonly string[]> {
  const { stdout, failed } = await execa('dpkg', ['-L', 'opencv-doc'], { reject: false, stdin: 'ignore' });
  if (failed) {
    throw new Error('The real footage is missing: install the Debian package opencv-doc.');
  }
  return stdout.split('\n');
}

function find(installed: readonly string[], name: string): string {
  const path = installed.find((candidate) => basename(candidate) === name);
  if (path === undefined) {
    throw new Error(`The Debian package opencv-doc is installed but holds no ${name}.`);
  }
  return path;
}

async function unpack(compressedPath: string, folder: string): Promise<string> {
  await mkdir(folder, { recursive: true });
  const path = join(folder, basename(compressedPath, '.gz'));
  await makeFileOnce(path, (draftPath) =>
    pipeline(createReadStream(compressedPath), createGunzip(), createWriteStream(draftPath)),
  );
  return path;
}
