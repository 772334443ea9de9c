// Encodes one segment: one ffmpeg process writes grain after grain; each is looked at, handed over and reported the
// moment it is closed, so that a machine that dies loses at most the open one.
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { MillError } from '#shared/errors.ts';
import type { EncodeTask } from '#shared/task.ts';
import { type SegmentFiles, segmentArgs } from '../media/segment-args.ts';
import { decisiveLine, runTool, type ToolResult } from '../tools/run-tool.ts';
import { findDamage } from './encode/find-damage.ts';
import { GrainFlow } from './encode/grain-flow.ts';
import { openSameSource } from './same-source.ts';
import type { TaskContext } from './task-context.ts';

export type EncodeResult = { kind: 'encode'; frames: number; seconds: number; command: string };

/** An encoder that writes no frame for this long is hung. */
const silentMs = 180_000;

/**
 * Throws MillError `source-damaged` (pictures missing or not decoding), `encoder-failed`, `source-changed`, `timeout`,
 * `stale-attempt`.
 */
export async function encodeSegment(task: EncodeTask, context: TaskContext): Promise<EncodeResult> {
  const folder = join(context.scratch, 'grains');
  await mkdir(folder, { recursive: true });
  const files: SegmentFiles = { source: await openSameSource(context, task.source), folder };
  const stop = new AbortController();
  // Written out: AbortSignal.any can lose an abort once its source is collected (nodejs/node issue 65995).
  const follow = () => stop.abort();
  context.signal.addEventListener('abort', follow, { once: true });
  try {
    const flow = new GrainFlow({ task, folder, context, stop });
    const run = await runEncoder(segmentArgs(task, files), flow, stop);
    await flow.finish();
    if (!flow.complete) await explain(run, { task, files, flow, context });
    const damage = await findDamage(run, { task, files, signal: context.signal });
    if (damage !== null) throw damage;
    return {
      kind: 'encode',
      frames: flow.storedFrames,
      seconds: run.durationMs / 1000,
      command: run.command,
    };
  } finally {
    context.signal.removeEventListener('abort', follow);
  }
}

/** Ends with the process, or when `stop` fires; an encoder that is silent for too long is ended. */
async function runEncoder(args: string[], flow: GrainFlow, stop: AbortController): Promise<ToolResult> {
  let silent = false;
  const endSilent = () => {
    silent = true;
    stop.abort();
  };
  let timer = setTimeout(endSilent, silentMs);
  const beat = () => {
    clearTimeout(timer);
    timer = setTimeout(endSilent, silentMs);
  };
  try {
    const run = await runTool({
      tool: 'ffmpeg',
      args,
      signal: stop.signal,
      timeoutMs: 24 * 3_600_000,
      keepStdout: false,
      onLine: (line, stream) => {
        if (stream === 'stdout' && flow.take(line)) beat();
      },
    });
    if (!silent) return run;
    throw new MillError(
      'timeout',
      `the encoder wrote nothing for ${silentMs / 1000} s and was ended; look at the machine's disk and devices`,
      { details: { command: run.command, line: decisiveLine(run) } },
    );
  } finally {
    clearTimeout(timer);
  }
}

type Ended = { task: EncodeTask; files: SegmentFiles; flow: GrainFlow; context: TaskContext };

/** The process ended before its lease did: says why. Always throws. */
async function explain(run: ToolResult, { task, files, flow, context }: Ended): Promise<never> {
  const details = { command: run.command, line: decisiveLine(run) };
  if (flow.failure !== null) throw flow.failure;
  if (context.signal.aborted) throw new MillError('stale-attempt', 'the attempt was stopped', { details });
  const damage = await findDamage(run, { task, files, signal: context.signal });
  if (damage !== null) throw damage;
  if (!run.ok) {
    throw new MillError(
      'encoder-failed',
      `ffmpeg ended with ${run.exitCode ?? run.endedBy} while encoding frames ${task.range.first}–${task.range.end}: ${details.line}`,
      { details },
    );
  }
  throw new MillError(
    'source-damaged',
    `the source gave ${flow.storedFrames} of the ${task.range.end - task.range.first} pictures due from frame ${task.range.first} on; it ends early or pictures are missing`,
    { details },
  );
}
