// Tells when the process that started this one is gone, so that an agent that belongs to a command ends with it.
import { fstatSync } from 'node:fs';
import { setInterval as every } from 'node:timers/promises';

const lookEveryMs = 500;

/** Calls `onGone` once. A parent that holds our standard input as a pipe is missed at once, any other within half a second. */
export function whenParentIsGone(signal: AbortSignal, onGone: () => void): void {
  let told = false;
  const tell = () => {
    if (told || signal.aborted) return;
    told = true;
    onGone();
  };
  if (isPipe(0)) {
    process.stdin.once('end', tell).once('error', tell).resume();
    process.stdin.unref?.();
  }
  void watchParent(signal, tell);
}

/** An orphan is given to another parent (POSIX), or keeps a number that nobody answers to (Windows). */
async function watchParent(signal: AbortSignal, tell: () => void): Promise<void> {
  const parent = process.ppid;
  try {
    for await (const _tick of every(lookEveryMs, undefined, { signal, ref: false })) {
      if (process.ppid !== parent || !isThere(parent)) return tell();
    }
  } catch {
    // The agent is ending anyway.
  }
}

function isThere(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    // A process of another user may not be signalled, but it is there.
    return error instanceof Error && 'code' in error && error.code === 'EPERM';
  }
}

function isPipe(descriptor: number): boolean {
  try {
    const stats = fstatSync(descriptor);
    return stats.isFIFO() || stats.isSocket();
  } catch {
    return false;
  }
}
