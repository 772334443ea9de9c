// The check task: everything that was promised of the deliverable and can be measured on the file, measured on the file,
// by ways that have nothing to do with how it was made. A failed check is a result, not an error.
import type { CheckName, CheckResult } from '#shared/check.ts';
import { checkNames } from '#shared/check.ts';
import { parseRational, type Rational, rational, toDecimal, toNumber } from '#shared/rational.ts';
import type { CheckTask, TaskResult } from '#shared/task.ts';
import { checkDecoded } from '../media/check/decoded.ts';
import { checkSameHashes } from '../media/check/same-hashes.ts';
import { verdict } from '../media/check/verdict.ts';
import { pictureStart } from '../media/picture-start.ts';
import { plannedSound } from '../media/planned-sound.ts';
import { allOrNone } from '../tools/all-or-none.ts';
import { type CheckFile, openJoined } from './check/check-file.ts';
import { comparePictures, hashSource, type SpotSides, spotOutput } from './check/compare-pictures.ts';
import { deliverableTaps, heardFile, measureSound, sampleEncodersOf } from './check/measure-sound.ts';
import { readLabels } from './check/read-labels.ts';
import { type Decoded, runDecode } from './check/run-decode.ts';
import { scanPicture } from './check/scan-picture.ts';
import { openSameSource } from './same-source.ts';
import type { TaskContext } from './task-context.ts';

type CheckTaskResult = Extract<TaskResult, { kind: 'check' }>;

/** Throws MillError `source-changed`, `stale-attempt`, `timeout` and what opening a source throws. */
export async function checkJoined(task: CheckTask, context: TaskContext): Promise<CheckTaskResult> {
  const source = await openSameSource(context, task.source);
  const file = await openJoined(task, context);
  const checks =
    'unreadable' in file ? allFailed(file.unreadable) : await checkFile(task, context, { file, source });
  return { kind: 'check', checks };
}

async function checkFile(
  task: CheckTask,
  context: TaskContext,
  { file, source }: { file: CheckFile; source: string },
): Promise<CheckResult[]> {
  if (file.picture === null) return allFailed('the file has no picture track');
  const { plan, format } = task;
  const common = {
    file,
    source,
    start: pictureStart({ wrapper: format.wrapper, rate: plan.rate }, plannedSound(task)),
    scratch: context.scratch,
    timeoutMs: decodeTimeoutMs(plan),
    timeBase: parseRational(file.picture.time_base) ?? rational(1, 1000),
  };
  // Readings that need nothing of each other run side by side: one decoder alone leaves cores idle.
  const [decoded, scanned, likeness, sound, labels] = await allOrNone(context.signal, (signal) => {
    const sides = { ...common, signal };
    const decoding = decodeDeliverable(task, sides);
    return [
      decoding,
      scanPicture(task, sides),
      checkLikeness(task, sides, decoding),
      measureSound(task, sides, decoding),
      readLabels(task, sides),
    ];
  });
  return [...checkDecoded({ ...decoded, framesDue: plan.frames }), ...scanned, likeness, ...sound, labels];
}

type Sides = SpotSides & { readonly file: CheckFile };

function decodeDeliverable(task: CheckTask, sides: Sides): Promise<Decoded> {
  const { file, scratch, start } = sides;
  const { lossless } = task.format.checks;
  return runDecode(
    {
      local: file.local,
      demuxer: file.demuxer,
      strict: true,
      picture: { hashed: lossless, spots: lossless ? [] : spotOutput(task, sides) },
      sound: deliverableTaps(task, file),
      sampleEncoders: sampleEncodersOf(task),
      pictureStart: toDecimal(start, 6, 'nearest'),
      heardFile: heardFile(scratch, 'deliverable'),
    },
    sides,
  );
}

async function checkLikeness(
  task: CheckTask,
  sides: Sides,
  decoding: Promise<Decoded>,
): Promise<CheckResult> {
  if (!task.format.checks.lossless) return comparePictures(task, sides, decoding);
  const [due, { pictureHashes }] = await Promise.all([hashSource(task, sides), decoding]);
  return checkSameHashes(due, pictureHashes, task.facts.picture.pixelFormat);
}

/** A decode that takes twenty times as long as the film, or an hour, isn't going to end. */
function decodeTimeoutMs({ frames, rate }: { frames: number; rate: Rational }): number {
  return Math.min(Math.max(3_600_000, Math.ceil((20_000 * frames) / toNumber(rate))), 2 ** 31 - 1);
}

/** Of a file that can't be opened nothing holds; `bytes` is the delivery's own check. */
function allFailed(why: string): CheckResult[] {
  const names: CheckName[] = checkNames.filter((name) => name !== 'bytes');
  return names.map((name) => verdict({ name, ok: false, measured: why, limit: 'a file that can be opened' }));
}
