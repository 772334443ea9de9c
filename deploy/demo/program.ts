// A program of this project as a real process beside this one: its log goes to a file, and it ends when we do.
import { readFile } from 'node:fs/promises';
import os from 'node:os';
import { setTimeout as sleep } from 'node:timers/promises';
import { execa } from 'execa';

export type Program = {
  /** Undefined when it could not be started. */
  readonly pid: number | undefined;
  /** First line of its standard output. */
  readonly firstLine: Promise<string>;
  /** Rejects with its last words when it ends, or never began. */
  readonly broken: Promise<never>;
  /** Resolves when it is gone. `told`: a Ctrl-C that reached us reached it, too, and it is ending already. */
  stop(told: boolean): Promise<void>;
};

export type ProgramOptions = {
  readonly name: string;
  /** The script's absolute path, and the words after it. */
  readonly command: readonly [script: string, ...words: string[]];
  readonly logFile: string;
  /** Added to our own. */
  readonly niceness: number;
};

const ownEndMs = 2_000;
const patienceMs = 10_000;

export function startProgram({ name, command, logFile, niceness }: ProgramOptions): Program {
  const child = execa(process.execPath, [...command], {
    // Never written to: it closes when we are gone, however that came, and the program ends.
    stdin: 'pipe',
    stderr: { file: logFile },
    buffer: false,
    reject: false,
    extendEnv: false,
    env: plainEnvironment(),
    forceKillAfterDelay: patienceMs,
  });
  if (child.pid !== undefined && niceness > 0) os.setPriority(child.pid, os.getPriority() + niceness);
  const broken = child.then(async ({ shortMessage, exitCode }): Promise<never> => {
    const how = shortMessage ?? `ended with code ${exitCode}`;
    throw new Error(`${name}: ${how}\n${await lastWords(logFile)}`);
  });
  // Nobody may be waiting for it.
  broken.catch(() => {});
  return {
    pid: child.pid,
    firstLine: new Promise((resolve) => {
      let text = '';
      child.stdout.on('data', (piece: Buffer) => {
        text += String(piece);
        if (text.includes('\n')) resolve(text.slice(0, text.indexOf('\n')));
      });
    }),
    broken,
    async stop(told) {
      if (told) await Promise.race([child, sleep(ownEndMs, undefined, { ref: false })]);
      child.kill();
      await child;
    },
  };
}

/** Settings of a farm that this user also runs are not meant for this one. */
function plainEnvironment(): NodeJS.ProcessEnv {
  return Object.fromEntries(Object.entries(process.env).filter(([name]) => !name.startsWith('NIGHTMILL_')));
}

async function lastWords(logFile: string): Promise<string> {
  const text = await readFile(logFile, 'utf8').catch(() => '');
  return text.trimEnd().split('\n').slice(-5).join('\n');
}
