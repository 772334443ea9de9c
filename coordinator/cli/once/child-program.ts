// A program of this project that runs for one call: it writes to a log file, ends when we do, and is stopped in order.
import { type ChildProcess, spawn } from 'node:child_process';
import { open, readFile } from 'node:fs/promises';
import { setTimeout as sleep } from 'node:timers/promises';

export type ChildProgram = {
  readonly name: string;
  /** Resolves when it has ended, with why. */
  readonly ended: Promise<string>;
  /** Asks it to end, insists after a while; resolves when it is gone. */
  stop(): Promise<void>;
  /** The last lines of its log. */
  lastWords(): Promise<string>;
};

export type ChildOptions = {
  readonly name: string;
  readonly program: string;
  readonly words: readonly string[];
  readonly environment: NodeJS.ProcessEnv;
  readonly logFile: string;
};

const patienceMs = 10_000;
const wordsKept = 5;

export async function startChild({
  name,
  program,
  words,
  environment,
  logFile,
}: ChildOptions): Promise<ChildProgram> {
  const log = await open(logFile, 'a');
  // Its standard input is a pipe from us that nothing is ever written to: when we are gone, however that came, it ends.
  // In a process group of its own it doesn't get our Ctrl-C: we stop it, after its work was called off.
  const child = spawn(process.execPath, [program, ...words], {
    stdio: ['pipe', log.fd, log.fd],
    env: environment,
    detached: process.platform !== 'win32',
    windowsHide: true,
  });
  await log.close();
  const ended = endOf(child);
  return {
    name,
    ended,
    async stop() {
      // The closed pipe is the request; a signal on top of it would be understood as impatience.
      child.stdin?.destroy();
      await Promise.race([ended, sleep(patienceMs, undefined, { ref: false })]);
      child.kill('SIGKILL');
      await ended;
    },
    lastWords: async () => {
      const lines = (await readFile(logFile, 'utf8').catch(() => '')).trimEnd().split('\n');
      return lines.slice(-wordsKept).map(wordsOf).join('\n');
    },
  };
}

function endOf(child: ChildProcess): Promise<string> {
  return new Promise((resolve) => {
    child.once('error', (error) => resolve(`could not be started: ${error.message}`));
    child.once('close', (code, signal) =>
      resolve(signal === null ? `ended with code ${code}` : `was ended by ${signal}`),
    );
  });
}

/** What a line of a log says to a person: the message of an entry and why, or the line as it is. */
function wordsOf(line: string): string {
  try {
    const { msg, reason, failure } = JSON.parse(line) as LogEntry;
    return [msg, failure?.message ?? reason].filter((part) => part !== undefined).join(': ');
  } catch {
    return line;
  }
}

type LogEntry = {
  readonly msg?: string;
  readonly reason?: string;
  readonly failure?: { readonly message?: string };
};
