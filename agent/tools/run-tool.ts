// Runs ffmpeg and ffprobe: argument lists without a shell, a time limit, an end that takes the whole process tree,
// and one result shape for success and failure.
import type { Readable } from 'node:stream';
import { StringDecoder } from 'node:string_decoder';
import { execa } from 'execa';
import { findTool, tieToParent } from './find-tool.ts';
import { giveWay } from './tool-priority.ts';

export type ToolName = 'ffmpeg' | 'ffprobe';

export type ToolRun = {
  readonly tool: ToolName;
  readonly args: readonly string[];
  readonly signal: AbortSignal;
  /** Wall time that the run may take. */
  readonly timeoutMs: number;
  /** Called for each line of standard output and standard error as it comes. */
  readonly onLine?: (line: string, stream: 'stdout' | 'stderr') => void;
  /** Keep standard output in the result (default). Switch off for long listings that `onLine` consumes. */
  readonly keepStdout?: boolean;
  /** Bytes of standard output that are kept at the most; more is an error. */
  readonly maxBytes?: number;
  /** Kill without giving the tool time to close its files, when nothing that it wrote is wanted. */
  readonly killAtOnce?: boolean;
};

export type ToolResult = {
  readonly ok: boolean;
  readonly exitCode: number | null;
  readonly endedBy: 'exit' | 'timeout' | 'stop' | 'signal' | 'not-started';
  readonly stdout: string;
  /** Last lines of standard error, at most 200. */
  readonly stderrTail: readonly string[];
  readonly durationMs: number;
  /** The command as a person would type it, for reports. */
  readonly command: string;
};

const keptLines = 200;

/** Never throws for what the program does; MillError `missing-tool` when it isn't on this machine. */
export async function runTool(run: ToolRun): Promise<ToolResult> {
  const tail: string[] = [];
  const keepStdout = run.keepStdout ?? true;
  const launch = await tieToParent((await findTool(run.tool)).path, run.args);
  const child = execa(launch.file, launch.args, {
    stdin: 'ignore',
    stdout: run.onLine || keepStdout ? 'pipe' : 'ignore',
    buffer: { stdout: keepStdout, stderr: false },
    maxBuffer: run.maxBytes ?? 256 * 1024 * 1024,
    timeout: run.timeoutMs,
    cancelSignal: run.signal,
    killSignal: run.killAtOnce ? 'SIGKILL' : 'SIGTERM',
    forceKillAfterDelay: 2_000,
    reject: false,
    windowsHide: true,
    env: { AV_LOG_FORCE_NOCOLOR: '1' },
  });
  giveWay(child.pid);
  try {
    await Promise.all([
      forEachLine(child.stderr, (line) => {
        tail.push(line);
        if (tail.length > keptLines) tail.shift();
        run.onLine?.(line, 'stderr');
      }),
      run.onLine ? forEachLine(child.stdout, (line) => run.onLine?.(line, 'stdout')) : undefined,
    ]);
  } catch (error) {
    // A fault of ours in reading a line: what the tool still does is of no use.
    child.kill('SIGKILL');
    throw error;
  }
  const result = await child;
  return {
    ok: !result.failed,
    exitCode: result.exitCode ?? null,
    endedBy: endedBy(result),
    stdout: typeof result.stdout === 'string' ? result.stdout : '',
    stderrTail: tail,
    durationMs: result.durationMs,
    command: [run.tool, ...run.args].map(quoteForReading).join(' '),
  };
}

/** The line of a tool's output that says why it failed: the last that isn't a summary. Empty when there is none. */
export function decisiveLine(result: ToolResult): string {
  const noise =
    /^(Conversion failed!|Error while (opening|initializing)|frame=|video:|\s*$|At least one output)/;
  return result.stderrTail.findLast((line) => !noise.test(line)) ?? result.stderrTail.at(-1) ?? '';
}

type Ending = {
  timedOut: boolean;
  isCanceled: boolean;
  isTerminated: boolean;
  exitCode?: number | undefined;
};

/**
 * Resolves when the stream has ended. By hand, because a listing has a line for each packet of a film: an iterator takes
 * ten times as long for each. Rejects with what `use` throws; a stream that breaks off is the tool's story, told by its
 * result.
 */
function forEachLine(stream: Readable | null, use: (line: string) => void): Promise<void> {
  if (!stream) return Promise.resolve();
  const decoder = new StringDecoder('utf8');
  let rest = '';
  const take = (text: string) => {
    const lines = (rest + text).split(/\r?\n/);
    rest = lines.pop() ?? '';
    for (const line of lines) use(line);
  };
  return new Promise((resolve, reject) => {
    const guarded = (step: () => void) => {
      try {
        step();
      } catch (error) {
        reject(error);
      }
    };
    stream.on('data', (chunk: Buffer) => guarded(() => take(decoder.write(chunk))));
    stream.on('error', () => resolve());
    stream.on('close', () => {
      if (rest !== '') guarded(() => use(rest));
      resolve();
    });
  });
}

function endedBy(result: Ending): ToolResult['endedBy'] {
  if (result.timedOut) return 'timeout';
  if (result.isCanceled) return 'stop';
  if (result.exitCode !== undefined) return 'exit';
  return result.isTerminated ? 'signal' : 'not-started';
}

function quoteForReading(arg: string): string {
  return /^[\w./:=,+@%-]+$/.test(arg) ? arg : `'${arg.replaceAll("'", `'\\''`)}'`;
}
