// The proof of a lane: a short real encode whose output another run decodes in software and compares, picture by picture,
// with what went in. Nothing that ffmpeg lists or promises counts.
import path from 'node:path';
import type { PictureSpec } from '#shared/house-format.ts';
import { fileInput, guardOptions, quietOptions } from '../media/safe-input.ts';
import { decisiveLine, runTool, type ToolResult } from '../tools/run-tool.ts';
import type { LaneCandidate } from './software-lanes.ts';
import { cleanPictures, specsOf, trialEncoderArgs } from './trial.ts';

export type Proof =
  | { readonly ok: true; readonly libraryVersion: string | null }
  /** Why the lane doesn't count, with the encoder's decisive line. */
  | { readonly ok: false; readonly reason: string };

export type Bench = { readonly scratch: string; readonly signal: AbortSignal };

const size = { width: 640, height: 360 } as const;
const frames = 12;
/** Structural similarity (0–1) of these pictures after any usable setting; a broken encoder writes far worse. */
const likenessFloor = 0.8;
const timeoutMs = 30_000;

/** Tries the settings of every built-in format of the codec. Throws MillError `missing-tool` only. */
export async function proveLane(lane: LaneCandidate, bench: Bench): Promise<Proof> {
  for (const [index, spec] of specsOf(lane.codec).entries()) {
    const reason = await faultOf(
      spec,
      path.join(bench.scratch, `proof-${lane.encoder}-${index}.mov`),
      bench.signal,
    );
    if (reason !== null) return { ok: false, reason };
  }
  return { ok: true, libraryVersion: await libraryVersionOf(lane, bench.signal) };
}

/** Null when the output of these settings decodes to what went in. */
async function faultOf(spec: PictureSpec, file: string, signal: AbortSignal): Promise<string | null> {
  const encoded = await runTool({ tool: 'ffmpeg', args: encodeArgs(spec, file), signal, timeoutMs });
  if (!encoded.ok) return `the trial encode failed: ${explain(encoded)}`;
  const decoded = await runTool({ tool: 'ffmpeg', args: compareArgs(file), signal, timeoutMs });
  if (!decoded.ok) return `the trial encode does not decode: ${explain(decoded)}`;
  return judge(readLikenesses(decoded.stdout));
}

/** What is wrong with decoded pictures of these likenesses, or null. */
export function judge(likenesses: readonly number[]): string | null {
  if (likenesses.length !== frames) return `${frames} pictures went in, ${likenesses.length} came out`;
  const worst = Math.min(...likenesses);
  return worst < likenessFloor
    ? `a picture came out with likeness ${worst.toFixed(2)}, required is ${likenessFloor}`
    : null;
}

/** The `All:` values of ssim's line for each picture. */
export function readLikenesses(text: string): number[] {
  return [...text.matchAll(/^n:\d+ .*All:([\d.]+)/gm)].map((match) => Number(match[1]));
}

function encodeArgs(spec: PictureSpec, file: string): string[] {
  return [
    [...quietOptions, '-y', '-loglevel', 'error', '-nostats'],
    ['-f', 'lavfi', '-i', cleanPictures(size), '-frames:v', String(frames)],
    trialEncoderArgs(spec),
    ['-f', spec.codec === 'av1' ? 'mp4' : 'mov', fileInput(file)],
  ].flat();
}

/** The reference has no end, so a picture too many is counted as well as one too few. */
function compareArgs(file: string): string[] {
  const same = 'format=yuv420p,setpts=N';
  return [
    [...quietOptions, '-loglevel', 'error', '-nostats'],
    [...guardOptions('mov,mp4,m4a,3gp,3g2,mj2'), '-i', fileInput(file)],
    ['-f', 'lavfi', '-i', cleanPictures(size)],
    ['-lavfi', `[0:v]${same}[a];[1:v]${same}[b];[a][b]ssim=stats_file=-:shortest=1`, '-f', 'null', '-'],
  ].flat();
}

/** Libraries name themselves when they open; quiet settings suppress it, so this run has none. */
async function libraryVersionOf(
  { encoder, versionPattern }: LaneCandidate,
  signal: AbortSignal,
): Promise<string | null> {
  if (versionPattern === null) return null;
  const source = ['-f', 'lavfi', '-i', cleanPictures({ width: 320, height: 180 })];
  const args = [
    ...quietOptions,
    '-nostats',
    ...source,
    '-frames:v',
    '1',
    '-c:v',
    encoder,
    '-flags',
    '+global_header',
    '-f',
    'null',
    '-',
  ];
  const { stderrTail } = await runTool({ tool: 'ffmpeg', args, signal, timeoutMs });
  return (
    stderrTail.map((line) => versionPattern.exec(line)?.[1]).find((version) => version !== undefined) ?? null
  );
}

function explain(result: ToolResult): string {
  if (result.endedBy === 'timeout') return `it took longer than ${timeoutMs / 1000} s`;
  return decisiveLine(result) || `exit code ${result.exitCode}`;
}
