// Reads what the joined file says of itself for the check `labels`.
import type { CheckResult } from '#shared/check.ts';
import type { Rational } from '#shared/rational.ts';
import type { CheckTask } from '#shared/task.ts';
import { checkLabels } from '../../media/check/labels.ts';
import { verdict } from '../../media/check/verdict.ts';
import { firstPicturesOptions, readFrames } from '../../media/facts/probe-report.ts';
import { type CheckFile, probe } from './check-file.ts';

/** Packets that are decoded to see what the pictures themselves say. */
const packets = 4;

export type LabelSide = { readonly file: CheckFile; readonly start: Rational; readonly signal: AbortSignal };

export async function readLabels(
  { facts, plan, format }: CheckTask,
  { file, start, signal }: LabelSide,
): Promise<CheckResult> {
  const { header, picture } = file;
  if (picture === null)
    return verdict({ name: 'labels', ok: false, measured: 'no picture track', limit: 'a picture track' });
  const result = await probe(file.local, file.demuxer, {
    options: firstPicturesOptions(picture.index, packets),
    signal,
  });
  const frames = result.ok ? readFrames(result.stdout) : [];
  return checkLabels({ facts, plan, format, header, picture, frames, start });
}
