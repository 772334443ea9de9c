// The joined file under check: what is known of it before anything is measured, and how its tools are run.

import { MillError } from '#shared/errors.ts';
import type { CheckTask } from '#shared/task.ts';
import {
  headerOptions,
  type ProbeHeader,
  type ProbeStream,
  readHeader,
} from '../../media/facts/probe-report.ts';
import { fileInput, guardOptions } from '../../media/safe-input.ts';
import { wrapperDemuxers } from '../../media/wrapper-demuxers.ts';
import { decisiveLine, runTool, type ToolResult } from '../../tools/run-tool.ts';
import type { TaskContext } from '../task-context.ts';

export type CheckFile = {
  readonly local: string;
  readonly demuxer: string;
  readonly header: ProbeHeader;
  readonly picture: ProbeStream | null;
  readonly sound: readonly ProbeStream[];
};

export async function openJoined(
  task: CheckTask,
  context: TaskContext,
): Promise<CheckFile | { unreadable: string }> {
  const local = await context.granary.open(task.joined);
  const demuxer = wrapperDemuxers[task.format.wrapper];
  const result = await probe(local, demuxer, { options: headerOptions, signal: context.signal });
  if (!result.ok) return { unreadable: decisiveLine(result) };
  const header = readHeader(result.stdout);
  return {
    local,
    demuxer,
    header,
    picture: header.streams.find((stream) => stream.codec_type === 'video') ?? null,
    sound: header.streams.filter((stream) => stream.codec_type === 'audio'),
  };
}

export type ProbeRun = {
  readonly options: readonly string[];
  readonly signal: AbortSignal;
  readonly timeoutMs?: number;
  /** Takes the listing line by line; it is then not kept. */
  readonly onLine?: (line: string) => void;
};

export async function probe(local: string, demuxer: string, run: ProbeRun): Promise<ToolResult> {
  const { onLine } = run;
  const result = await runTool({
    tool: 'ffprobe',
    args: ['-v', 'error', ...guardOptions(demuxer), ...run.options, fileInput(local)],
    signal: run.signal,
    timeoutMs: run.timeoutMs ?? 120_000,
    ...(onLine && {
      keepStdout: false,
      onLine: (line: string, stream: 'stdout' | 'stderr') => (stream === 'stdout' ? onLine(line) : undefined),
    }),
  });
  throwIfStopped(result, run.signal);
  return result;
}

/** An attempt that was stopped finds nothing out: it ends. So does a tool that hung. */
export function throwIfStopped(result: ToolResult, signal: AbortSignal): void {
  const details = { command: result.command, line: decisiveLine(result) };
  if (signal.aborted || result.endedBy === 'stop')
    throw new MillError('stale-attempt', 'the check was stopped', { details });
  if (result.endedBy === 'timeout') {
    throw new MillError(
      'timeout',
      `${result.command.split(' ', 1)[0]} took longer than ${Math.round(result.durationMs / 1000)} s; look at the machine's disk and load`,
      { details },
    );
  }
}
