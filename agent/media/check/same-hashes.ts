// The check `likeness` of lossless formats: every picture of the deliverable is the source's, bit for bit.
import type { CheckResult } from '#shared/check.ts';
import { counted, listed, verdict } from './verdict.ts';

/** Hashes of the pictures in order of presentation: the source's, after the way of the picture, and the deliverable's. */
export function checkSameHashes(
  source: readonly string[],
  deliverable: readonly string[],
  pixelFormat: string,
): CheckResult {
  const frames = source.flatMap((hash, frame) => (hash === deliverable[frame] ? [] : [frame]));
  const count =
    source.length === deliverable.length
      ? []
      : [`${counted(deliverable.length, 'picture')} beside ${source.length} of the source`];
  const unlike =
    frames.length === 0
      ? []
      : [`${counted(frames.length, 'picture')} not the source's, the first at frame ${frames[0] ?? 0}`];
  return verdict({
    name: 'likeness',
    ok: frames.length === 0 && count.length === 0 && source.length > 0,
    measured: listed(
      [...count, ...unlike],
      `all ${counted(source.length, 'picture')} bit for bit the source's`,
    ),
    limit: `every picture bit for bit the source's (${pixelFormat})`,
    frames,
  });
}
