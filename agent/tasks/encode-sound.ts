// Encodes the sound, every track once and whole, beside the picture.
import { join } from 'node:path';
import { MillError } from '#shared/errors.ts';
import type { SoundFile, SoundTask } from '#shared/task.ts';
import { soundArgs, soundExtension } from '../media/sound-args.ts';
import { decisiveLine, runTool } from '../tools/run-tool.ts';
import { openSameSource } from './same-source.ts';
import type { TaskContext } from './task-context.ts';

export type SoundResult = { kind: 'sound'; tracks: SoundFile[] };

const timeoutMs = 12 * 3_600_000;

/** Throws MillError `encoder-failed`, `source-changed`, `stale-attempt`. */
export async function encodeSound(task: SoundTask, context: TaskContext): Promise<SoundResult> {
  const source = await openSameSource(context, task.source);
  const names = task.tracks.map((_, position) => `sound-${position}${soundExtension(task.wrapper)}`);
  const outputs = names.map((name) => join(context.scratch, name));
  const started = performance.now();
  const run = await runTool({
    tool: 'ffmpeg',
    args: soundArgs(task, source, outputs),
    signal: context.signal,
    timeoutMs,
    keepStdout: false,
    onLine: (line) => {
      if (line.startsWith('progress=')) tellProgress(context, performance.now() - started);
    },
  });
  if (context.signal.aborted) throw new MillError('stale-attempt', 'the attempt was stopped');
  if (!run.ok) {
    throw new MillError(
      'encoder-failed',
      `the sound of ${JSON.stringify(task.source.path)} could not be encoded: ${decisiveLine(run)}`,
      {
        details: { command: run.command, line: decisiveLine(run) },
      },
    );
  }
  const tracks: SoundFile[] = [];
  for (const [position, track] of task.tracks.entries()) {
    const stored = await context.granary.store(outputs[position] ?? '', names[position] ?? '');
    tracks.push({ ...stored, startSeconds: track.startSeconds });
  }
  return { kind: 'sound', tracks };
}

function tellProgress({ report, log }: TaskContext, elapsedMs: number): void {
  report
    .progress({ frames: 0, seconds: elapsedMs / 1000 })
    .catch((error: unknown) => log.warn({ err: error }, 'progress could not be reported'));
}
