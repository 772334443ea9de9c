// One program of a farm: a real process, started as a user would, whose words go to a file.
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { open, readFile } from 'node:fs/promises';
import { createInterface } from 'node:readline';

export type Program = {
  readonly name: string;
  readonly pid: number;
  /** What it prints on standard output, line by line. */
  readonly lines: AsyncIterable<string>;
  /** Resolves when it is gone, with how it ended: `code 0`, `SIGKILL`. */
  readonly ended: Promise<string>;
  isRunning(): boolean;
  kill(signal: NodeJS.Signals): void;
};

export type ProgramOptions = {
  readonly name: string;
  /** The file that node runs, and its words. */
  readonly words: readonly string[];
  readonly environment: Readonly<Record<string, string>>;
  readonly logFile: string;
};

export async function startProgram({ name, words, environment, logFile }: ProgramOptions): Promise<Program> {
  const log = await open(logFile, 'a');
  // Our end of its standard input is never written to: when this process is gone, however that came, it sees the end.
  const child = spawn(process.execPath, [...words, '--end-with-parent'], {
    stdio: ['pipe', 'pipe', log.fd],
    env: { ...ownEnvironment(), ...environment },
  });
  await log.close();
  if (child.stdout === null) throw new Error(`${name} has no standard output`);
  return {
    name,
    pid: child.pid ?? 0,
    lines: createInterface({ input: child.stdout }),
    ended: once(child, 'exit').then(([code, signal]) => (signal === null ? `code ${code}` : String(signal))),
    isRunning: () => isRunning(child),
    kill: (signal) => void child.kill(signal),
  };
}

/** The last lines of a program's log, for a person who looks into a failure. */
export async function lastWords(logFile: string, lines: number): Promise<string> {
  const text = await readFile(logFile, 'utf8').catch(() => '');
  return text.trimEnd().split('\n').slice(-lines).join('\n');
}

function isRunning({ exitCode, signalCode }: Pick<ChildProcess, 'exitCode' | 'signalCode'>): boolean {
  return exitCode === null && signalCode === null;
}

/** Settings of a farm that this user also runs are not meant for this one. */
function ownEnvironment(): NodeJS.ProcessEnv {
  return Object.fromEntries(Object.entries(process.env).filter(([name]) => !name.startsWith('NIGHTMILL_')));
}
