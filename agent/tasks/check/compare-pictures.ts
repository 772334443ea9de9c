// The check `likeness`: pictures of the deliverable beside those of the source.
import type { CheckResult } from '#shared/check.ts';
import { add, divide, type Rational, rational, subtract, toDecimal } from '#shared/rational.ts';
import type { CheckTask, PictureTrack } from '#shared/task.ts';
import { parsePictureHash } from '../../media/check/decode-run.ts';
import { checkLikeness, likenessSpots, type Spot, type SpotScores } from '../../media/check/likeness.ts';
import { likenessArgs, parseSsimLine, sourceHashArgs } from '../../media/check/likeness-args.ts';
import { seamFrames } from '../../media/check/seams.ts';
import { checkSeek } from '../../media/check/source-seek.ts';
import { runTool } from '../../tools/run-tool.ts';
import { type CheckFile, throwIfStopped } from './check-file.ts';

export type PictureSides = {
  readonly file: CheckFile;
  /** The source's path on this machine. */
  readonly source: string;
  /** Where frame 0 stands in the deliverable, seconds. */
  readonly start: Rational;
  readonly signal: AbortSignal;
  readonly timeoutMs: number;
};

export async function comparePictures(task: CheckTask, sides: PictureSides): Promise<CheckResult> {
  const { plan, format, grains } = task;
  const spots = likenessSpots(seamFrames(grains), plan.frames);
  const found: SpotScores[] = [];
  for (const group of readGroups(task, spots)) found.push(...(await scoreSpots(task, sides, group)));
  return checkLikeness(found, format.checks);
}

/** For lossless formats: the hash of every picture that the source gives. */
export async function hashSource(task: CheckTask, sides: PictureSides): Promise<string[]> {
  const { plan } = task;
  const due: string[] = [];
  const source = { local: sides.source, demuxer: task.source.demuxer, seekSeconds: null };
  const args = sourceHashArgs({
    source,
    track: trackOf(task),
    way: plan.picture,
    rate: plan.rate,
    frames: plan.frames,
  });
  await readLines(args, sides, (line) => {
    const hash = parsePictureHash(line);
    if (hash !== null) due.push(hash);
  });
  return due;
}

/** Pictures between two spots that are sooner read through than sought past. */
const readThrough = 100;

/**
 * Spots that are read in one go: neighbours, and those for which a seek would lead back to what has been read. Of a source
 * that can only be read from the head these are all.
 */
function readGroups({ facts, plan }: CheckTask, spots: readonly Spot[]): Spot[][] {
  const groups: Spot[][] = [];
  for (const spot of spots) {
    const group = groups.at(-1);
    const from = Math.min(checkSeek(facts, plan, spot.first).frame, spot.first);
    if (group !== undefined && from - (group.at(-1)?.end ?? 0) <= readThrough) group.push(spot);
    else groups.push([spot]);
  }
  return groups;
}

async function scoreSpots(
  task: CheckTask,
  sides: PictureSides,
  spots: readonly Spot[],
): Promise<SpotScores[]> {
  const { facts, plan } = task;
  const first = spots[0]?.first ?? 0;
  const scores: number[] = [];
  const args = likenessArgs({
    source: {
      local: sides.source,
      demuxer: task.source.demuxer,
      seekSeconds: checkSeek(facts, plan, first).seconds,
    },
    deliverable: { ...sides.file, seekSeconds: deliverableSeek(plan.rate, sides.start, first) },
    track: trackOf(task),
    way: plan.picture,
    rate: plan.rate,
    frames: plan.frames,
    start: sides.start,
    spots,
  });
  await readLines(args, sides, (line) => {
    const score = parseSsimLine(line);
    if (score !== null) scores.push(score);
  });
  let taken = 0;
  return spots.map((spot) => {
    const from = taken;
    taken += spot.end - spot.first;
    return { spot, scores: scores.slice(from, taken) };
  });
}

/** Half a frame before frame `first`; reading begins at the keyframe before. Null at the head. */
function deliverableSeek(rate: Rational, start: Rational, first: number): string | null {
  const frame = subtract(rational(first), rational(1, 2));
  const seconds = add(divide(frame, rate), start);
  return first === 0 || seconds.num <= 0 ? null : toDecimal(seconds, 6, 'floor');
}

async function readLines(
  args: string[],
  { signal, timeoutMs }: PictureSides,
  take: (line: string) => void,
): Promise<void> {
  const result = await runTool({
    tool: 'ffmpeg',
    args,
    signal,
    timeoutMs,
    keepStdout: false,
    onLine: (line, stream) => (stream === 'stdout' ? take(line) : undefined),
  });
  // A run that failed shows as pictures that could not be compared.
  throwIfStopped(result, signal);
}

function trackOf({ facts }: CheckTask): PictureTrack {
  const { keyframes: _, ...track } = facts.picture;
  return track;
}
