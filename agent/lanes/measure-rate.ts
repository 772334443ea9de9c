// Calibration: how fast a format's encoder runs on this machine, read off a real encode while it is in full swing.
import type { HouseFormat } from '#shared/house-format.ts';
import type { Lane } from '#shared/link.ts';
import { quietOptions } from '../media/safe-input.ts';
import { followSignals } from '../tools/follow-signal.ts';
import { runTool } from '../tools/run-tool.ts';
import { calibrationSize, grainyPictures, trialEncoderArgs } from './trial.ts';

export type Rate = Lane['rates'][string];

export type Mark = { readonly frames: number; readonly atMs: number };

/** The measured stretch lasts this long and this many frames, when the whole run may last that long. */
const enoughMs = 1_000;
const enoughFrames = 12;
const limitMs = 8_000;

/** Frames that encoders which look ahead take in before they work at their own pace. */
const lookAheadFrames = 48;

/** Null when the encoder did not get going: the lane then has no rate for this format. */
export async function measureRate(format: HouseFormat, signal: AbortSignal): Promise<Rate | null> {
  using end = followSignals(signal);
  const marks: Mark[] = [];
  const leadFrames = leadFramesOf(format);
  await runTool({
    tool: 'ffmpeg',
    args: measureArgs(format),
    signal: end.signal,
    timeoutMs: limitMs,
    killAtOnce: true,
    keepStdout: false,
    onLine: (line, stream) => {
      const frames = stream === 'stdout' ? /^frame=\s*(\d+)/.exec(line)?.[1] : undefined;
      if (frames === undefined) return;
      marks.push({ frames: Number(frames), atMs: performance.now() });
      if (isEnough(marks, leadFrames)) end.abort();
    },
  });
  signal.throwIfAborted();
  const framesPerSecond = rateOf(marks, leadFrames);
  if (framesPerSecond === null) return null;
  const { width, height } = calibrationSize(format);
  return { framesPerSecond, megapixelsPerSecond: (framesPerSecond * width * height) / 1e6 };
}

/** Frames/s over the marks after the first `leadFrames`; a run too slow to get there is taken as a whole. */
export function rateOf(marks: readonly Mark[], leadFrames: number): number | null {
  const steady = marks.filter(({ frames }) => frames >= leadFrames);
  return slopeOf(steady) ?? slopeOf(marks.filter(({ frames }) => frames > 0));
}

function isEnough(marks: readonly Mark[], leadFrames: number): boolean {
  const steady = marks.filter(({ frames }) => frames >= leadFrames);
  const [first, last] = [steady[0], steady.at(-1)];
  if (!first || !last) return false;
  return last.atMs - first.atMs >= enoughMs && last.frames - first.frames >= enoughFrames;
}

function slopeOf(marks: readonly Mark[]): number | null {
  const [first, last] = [marks[0], marks.at(-1)];
  if (!first || !last || last.frames <= first.frames || last.atMs <= first.atMs) return null;
  return ((last.frames - first.frames) / (last.atMs - first.atMs)) * 1000;
}

function leadFramesOf({ picture }: HouseFormat): number {
  const alone = picture.codec === 'vc3' || picture.codec === 'prores' || picture.codec === 'ffv1';
  return alone ? 2 : lookAheadFrames;
}

/** Film seconds that no encoder gets through in `limitMs`: an end, should nobody be left to kill the run. */
const mostSeconds = 2_000;

/** Runs until it is killed; the encoder's output goes nowhere. */
function measureArgs(format: HouseFormat): string[] {
  return [
    [...quietOptions, '-loglevel', 'error', '-nostats', '-progress', 'pipe:1', '-stats_period', '0.1'],
    ['-f', 'lavfi', '-i', grainyPictures(calibrationSize(format), format.picture)],
    trialEncoderArgs(format.picture),
    ['-t', String(mostSeconds), '-f', 'null', '-'],
  ].flat();
}
