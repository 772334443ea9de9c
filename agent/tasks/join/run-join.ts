// Runs ffmpeg for the join, and says what went wrong.
import { MillError } from '#shared/errors.ts';
import type { JoinTask } from '#shared/task.ts';
import { type JoinFiles, joinArgs } from '../../media/join-args.ts';
import { decisiveLine, runTool } from '../../tools/run-tool.ts';

/** A disk slower than a megabyte a second isn't working. A timer holds 24 days at the most. */
function joinTimeoutMs(bytes: number): number {
  return Math.min(600_000 + Math.ceil(bytes / 1000), 2 ** 31 - 1);
}

/**
 * Writes `files.output`. Throws MillError `join-failed`, `no-space`, `timeout` or `stale-attempt`.
 */
export async function runJoin(task: JoinTask, files: JoinFiles, signal: AbortSignal): Promise<void> {
  const bytes = [...task.grains, ...task.sound].reduce((sum, file) => sum + file.bytes, 0);
  const result = await runTool({
    tool: 'ffmpeg',
    args: joinArgs(task, files),
    signal,
    timeoutMs: joinTimeoutMs(bytes),
  });
  const says = (words: string) => result.stderrTail.some((line) => line.includes(words));
  if (says('reserved_moov_size is too small')) return runJoin(task, { ...files, headerRoom: null }, signal);
  // ffmpeg 5.1 ends with 0 when a file's end could not be written (measured).
  if (result.ok && !says('Error writing trailer')) return;
  const details = { command: result.command, line: decisiveLine(result) };
  if (signal.aborted) throw new MillError('stale-attempt', 'the join was stopped', { details });
  if (result.endedBy === 'timeout') {
    throw new MillError(
      'timeout',
      `the join took longer than ${Math.round(result.durationMs / 1000)} s; look at the disk`,
      { details },
    );
  }
  if (says('No space left on device')) {
    throw new MillError('no-space', "the agent's scratch folder is full; free some space and retry", {
      details,
    });
  }
  throw new MillError(
    'join-failed',
    `ffmpeg ended with ${result.exitCode ?? result.endedBy} while joining: ${details.line}`,
    { details },
  );
}
