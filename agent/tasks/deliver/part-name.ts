// Names of temporary files on a destination. They begin with a dot, so that watchers and people don't see them, and
// tell job and attempt, so that each is removed by its own job only.
import path from 'node:path';
import type { DeliverTask } from '#shared/task.ts';

/** Longest file name that all common file systems take, in bytes of UTF-8. */
const longestName = 255;

type Attempt = Pick<DeliverTask, 'jobId' | 'attempt'>;

/** `.film.mp4.nightmill-j0123abcd-a2.part` beside `target`; long names are cut in front. */
export function partName(target: string, { jobId, attempt }: Attempt): string {
  const suffix = `.nightmill-${jobId}-a${attempt}.part`;
  const name = cutToBytes(path.basename(target), longestName - suffix.length - 1);
  return path.join(path.dirname(target), `.${name}${suffix}`);
}

/** True for a temporary file of `target` by this job's attempts before `attempt`, or by this one before it was started again. */
export function isLeftover(name: string, target: string, { jobId, attempt }: Attempt): boolean {
  const number = new RegExp(`\\.nightmill-${jobId}-a(\\d+)\\.part$`).exec(name)?.[1];
  if (number === undefined || Number(number) > attempt) return false;
  return name === path.basename(partName(target, { jobId, attempt: Number(number) }));
}

function cutToBytes(text: string, bytes: number): string {
  let cut = '';
  let used = 0;
  for (const letter of text) {
    used += Buffer.byteLength(letter);
    if (used > bytes) break;
    cut += letter;
  }
  return cut;
}
