// Tells damage of the source from the noise of starting in the middle. A decoder that begins at an open group of
// pictures complains about pictures that are dropped anyway; reading only that lead-in again shows how many complaints
// belong to it.
import { MillError } from '#shared/errors.ts';
import type { EncodeTask } from '#shared/task.ts';
import { gridFilters, sourceInput } from '../../media/decode-args.ts';
import { quietOptions } from '../../media/safe-input.ts';
import { isDamageLine } from '../../media/segment-output.ts';
import { runTool, type ToolResult } from '../../tools/run-tool.ts';

export type Damage = {
  readonly task: EncodeTask;
  readonly files: { readonly source: string };
  readonly signal: AbortSignal;
};

/** The error that the segment ends with, or null when its pictures decoded well or the plan takes what decodes. */
export async function findDamage(
  run: ToolResult,
  { task, files, signal }: Damage,
): Promise<MillError | null> {
  const lines = run.stderrTail.filter(isDamageLine);
  if (task.way.tolerant || lines.length === 0) return null;
  const expected = task.seekSeconds === null ? 0 : await leadInLines(task, files.source, signal);
  if (lines.length <= expected) return null;
  const line = lines.at(-1) ?? '';
  return new MillError(
    'source-damaged',
    `pictures of the source between frames ${task.range.first} and ${task.range.end} do not decode cleanly: ${line}`,
    {
      details: { command: run.command, line },
    },
  );
}

async function leadInLines(task: EncodeTask, source: string, signal: AbortSignal): Promise<number> {
  const { track, way, rate, range } = task;
  const filters = gridFilters({ track, way, rate, first: range.first, toEnd: false });
  const run = await runTool({
    tool: 'ffmpeg',
    args: [
      ...quietOptions,
      ...['-loglevel', 'warning', '-nostats'],
      ...sourceInput(source, task.source, task.seekSeconds),
      ...['-map', `0:${track.index}`, '-vf', filters.join(','), '-frames:v', '1', '-f', 'null', '-'],
    ],
    signal,
    timeoutMs: 600_000,
    keepStdout: false,
  });
  return run.stderrTail.filter(isDamageLine).length;
}
