// Tries what a cut into a source gives, where it goes wrong first: just before and after keyframes.
import { pictureHashes, readPackets } from '../probe.ts';
import type { ObservedSource } from './observe-source.ts';

/** Pictures decoded after each cut. */
const decoded = 2;

/** Whether seeking half a frame early gave the very pictures of the whole pass in every cut tried. */
export async function cutsExactly(path: string, source: ObservedSource): Promise<boolean> {
  const { pictures } = source;
  for (const index of await cutIndexes(path, source)) {
    const cutSeconds = (secondsAt(source, index - 1) + secondsAt(source, index)) / 2;
    const found = await pictureHashes(path, {
      inputOptions: ['-noautorotate', '-ss', cutSeconds.toFixed(6)],
      outputOptions: ['-frames:v', String(decoded)],
    });
    const due = pictures.slice(index, index + decoded).map(({ md5 }) => md5);
    if (found.join() !== due.join()) {
      return false;
    }
  }
  return true;
}

function secondsAt({ pictures, clock, fileStartSeconds }: ObservedSource, index: number): number {
  return ((pictures[index]?.ptsTicks ?? 0) * clock.num) / clock.den - fileStartSeconds;
}

async function cutIndexes(path: string, { pictures }: ObservedSource): Promise<number[]> {
  const keyTicks = (await readPackets(path))
    .filter(({ keyframe }) => keyframe)
    .map(({ ptsTicks }) => ptsTicks);
  const keyIndexes = keyTicks.map((ticks) => pictures.findIndex(({ ptsTicks }) => ptsTicks === ticks));
  const chosen = [keyIndexes[1] ?? Math.floor(pictures.length / 2), keyIndexes.at(-1) ?? 0];
  const around = chosen.flatMap((index) => [index - 1, index + 1]);
  return around.filter((index) => index > 0 && index + decoded <= pictures.length);
}
