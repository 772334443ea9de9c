// Runs one command from its words to its exit code. Whatever goes wrong is told in one sentence.
import { CommanderError } from 'commander';
import { printable } from './display.ts';
import { exitCodeOf, exitCodes } from './exit-codes.ts';
import { buildProgram } from './program.ts';
import type { Terminal } from './terminal.ts';

/** `words`: without the names of Node and of the program. */
export async function runCommandLine(words: readonly string[], terminal: Terminal): Promise<number> {
  let exitCode: number = exitCodes.done;
  const program = buildProgram(terminal, (code) => {
    exitCode = code;
  });
  try {
    await program.parseAsync(words, { from: 'user' });
    return exitCode;
  } catch (error) {
    if (terminal.interrupted.aborted) return exitCodes.interrupted;
    // Commander has told what was wrong, or printed the help that was asked for.
    if (error instanceof CommanderError)
      return error.exitCode === 0 ? exitCodes.done : exitCodes.wrongRequest;
    terminal.err(`nightmill: ${sentenceOf(error)}`);
    return exitCodeOf(error);
  }
}

/** Line breaks are ours; everything else in it may come from names of files. */
function sentenceOf(error: unknown): string {
  const text = error instanceof Error ? error.message : String(error);
  return text.split('\n').map(printable).join('\n');
}
