// Goes on as another program of this project: the coordinator or the agent, with this terminal and these words.
import { spawn } from 'node:child_process';
import { type ExitCode, exitCodes } from './exit-codes.ts';

/**
 * Runs `program` (a file) with `words` until it ends. Where the system can, this process becomes that program and
 * nothing returns; elsewhere it stands by, hands signals on and returns the exit code.
 */
export async function become(program: string, words: readonly string[]): Promise<number> {
  if (process.platform !== 'win32' && process.execve) {
    process.execve(process.execPath, [process.execPath, program, ...words], process.env);
  }
  return standBy(program, words);
}

export async function standBy(program: string, words: readonly string[]): Promise<number> {
  const child = spawn(process.execPath, [program, ...words], { stdio: 'inherit' });
  const handOn = (signal: NodeJS.Signals) => void child.kill(signal);
  // Ctrl-C reaches the program by itself; this process only has to outlive it.
  const outlive = () => {};
  process.on('SIGTERM', handOn).on('SIGHUP', handOn).on('SIGINT', outlive);
  try {
    return await new Promise<number>((resolve, reject) => {
      child.once('error', reject);
      child.once('close', (code, signal) => resolve(code ?? codeOfSignal(signal)));
    });
  } finally {
    process.off('SIGTERM', handOn).off('SIGHUP', handOn).off('SIGINT', outlive);
  }
}

function codeOfSignal(signal: NodeJS.Signals | null): ExitCode {
  return signal === 'SIGINT' || signal === 'SIGTERM' ? exitCodes.interrupted : exitCodes.workFailed;
}
