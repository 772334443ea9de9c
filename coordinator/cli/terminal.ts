// What a command sees of the world around it: where it writes, how wide that is, the environment, and Ctrl-C.
import { exitCodes } from './exit-codes.ts';

export type Terminal = {
  /** Results: what another program may read. */
  out(line: string): void;
  /** Everything else: progress, failures. */
  err(line: string): void;
  /** Redraws one line below what `err` wrote; null where lines can't be redrawn. Empty text takes it away. */
  readonly redraw: ((line: string) => void) | null;
  /** Letters that fit a line of `out`; Infinity when it isn't read on a screen. */
  readonly columns: number;
  readonly environment: Readonly<Record<string, string | undefined>>;
  /** Fires on Ctrl-C and when the system asks to end. */
  readonly interrupted: AbortSignal;
};

/** The terminal of this process. Asked to end twice, the process ends at once. */
export function openTerminal(): Terminal {
  const controller = new AbortController();
  const interrupt = () => {
    if (controller.signal.aborted) process.exit(exitCodes.interrupted);
    controller.abort(new Error('interrupted'));
  };
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.on(signal, interrupt);
  // Whoever read our output has seen enough (`| head`); that is no failure.
  process.stdout.on('error', (error: NodeJS.ErrnoException) => {
    if (error.code === 'EPIPE') process.exit(exitCodes.done);
    throw error;
  });
  return {
    out: (line) => void process.stdout.write(`${line}\n`),
    err: (line) => void process.stderr.write(`${line}\n`),
    redraw: process.stderr.isTTY ? (line) => redrawLine(line) : null,
    columns: process.stdout.isTTY ? process.stdout.columns : Number.POSITIVE_INFINITY,
    environment: process.env,
    interrupted: controller.signal,
  };
}

function redrawLine(line: string): void {
  // To the line's start, write, erase what an earlier, longer one left (ECMA-48 EL); never wrap.
  process.stderr.write(`\r${line.slice(0, process.stderr.columns - 1)}\u001B[K`);
}
