// The check `likeness`: pictures of the deliverable beside those of the source.
import { appendFile, readFile, rm } from 'node:fs/promises';
import path from 'node:path';
import type { CheckResult } from '#shared/check.ts';
import type { Rational } from '#shared/rational.ts';
import type { CheckTask } from '#shared/task.ts';
import { parsePictureHash } from '../../media/check/decode-run.ts';
import { checkLikeness, likenessSpots, type Spot, type SpotScores } from '../../media/check/likeness.ts';
import {
  deliverableSpotOutput,
  parseSsimLine,
  type SpotFile,
  scoreArgs,
  sourceHashArgs,
  sourceSpotArgs,
} from '../../media/check/likeness-args.ts';
import { seamFrames } from '../../media/check/seams.ts';
import { checkSeek } from '../../media/check/source-seek.ts';
import { runTool } from '../../tools/run-tool.ts';
import { throwIfStopped } from './check-file.ts';

export type PictureSides = {
  /** The source's path on this machine. */
  readonly source: string;
  readonly signal: AbortSignal;
  readonly timeoutMs: number;
};

export type SpotSides = PictureSides & {
  readonly scratch: string;
  /** Where frame 0 stands in the deliverable, seconds. */
  readonly start: Rational;
};

/** Where pictures of both sides are looked at. */
function spotsOf({ plan, grains }: CheckTask): Spot[] {
  return likenessSpots(seamFrames(grains), plan.frames);
}

/** What the full decode of the deliverable writes beside: its pictures at the spots, for `comparePictures`. */
export function spotOutput(task: CheckTask, { scratch, start }: SpotSides): string[] {
  const { rate, picture: way } = task.plan;
  return deliverableSpotOutput({ way, rate }, start, {
    spots: spotsOf(task),
    file: deliverableSpots(scratch),
  });
}

/** `decoded` resolves when the deliverable was decoded with `spotOutput`; the source is read meanwhile. */
export async function comparePictures(
  task: CheckTask,
  sides: SpotSides,
  decoded: Promise<unknown>,
): Promise<CheckResult> {
  const spots = spotsOf(task);
  const sourceSpots = path.join(sides.scratch, 'spots-source.yuv');
  await rm(sourceSpots, { force: true });
  for (const group of readGroups(task, spots))
    await addSourceSpots(task, sides, { spots: group, file: sourceSpots });
  await decoded;
  const scores: number[] = [];
  const args = scoreArgs(task.plan.picture, deliverableSpots(sides.scratch), sourceSpots);
  await readLines(args, sides, (line) => {
    const score = parseSsimLine(line);
    if (score !== null) scores.push(score);
  });
  let taken = 0;
  const found = spots.map((spot): SpotScores => {
    const from = taken;
    taken += spot.end - spot.first;
    return { spot, scores: scores.slice(from, taken) };
  });
  return checkLikeness(found, task.format.checks);
}

function deliverableSpots(scratch: string): string {
  return path.join(scratch, 'spots-deliverable.yuv');
}

/** Groups lie far apart in the source, each is read by a run of its own; the pictures go one behind the other. */
async function addSourceSpots(task: CheckTask, sides: SpotSides, { spots, file }: SpotFile): Promise<void> {
  const { facts, plan } = task;
  const seekSeconds = checkSeek(facts, plan, spots[0]?.first ?? 0).seconds;
  const source = { local: sides.source, demuxer: task.source.demuxer, seekSeconds };
  const part = `${file}.part`;
  await readLines(sourceSpotArgs(source, gridOf(task), { spots, file: part }), sides, () => {});
  await appendFile(file, await readFile(part).catch(() => new Uint8Array()));
  await rm(part, { force: true });
}

/** For lossless formats: the hash of every picture that the source gives. */
export async function hashSource(task: CheckTask, sides: PictureSides): Promise<string[]> {
  const due: string[] = [];
  const source = { local: sides.source, demuxer: task.source.demuxer, seekSeconds: null };
  await readLines(sourceHashArgs(source, gridOf(task)), sides, (line) => {
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

function gridOf({ facts, plan }: CheckTask) {
  const { keyframes: _, ...track } = facts.picture;
  return { track, way: plan.picture, rate: plan.rate, frames: plan.frames };
}
