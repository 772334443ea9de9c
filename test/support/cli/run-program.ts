// Runs the command line as a program, as a user would, and kills it should the test end before it.
import { fileURLToPath } from 'node:url';
import { execa, type Options } from 'execa';
import { onTestFinished } from 'vitest';

const program = fileURLToPath(new URL('../../../coordinator/cli/main.ts', import.meta.url));
/** What was measured on this machine is kept for the next test, apart from what users measure. */
const cacheFolder = fileURLToPath(new URL('../../../node_modules/.cache/nightmill-tests', import.meta.url));

/** Call inside a test. Never rejects; read `exitCode`, `stdout` and `stderr`. */
export function runProgram(words: readonly string[], options: Options = {}) {
  const running = execa(process.execPath, [program, ...words], {
    ...options,
    reject: false,
    env: { XDG_CACHE_HOME: cacheFolder, ...options.env },
  });
  onTestFinished(() => void running.kill('SIGKILL'));
  return running;
}
