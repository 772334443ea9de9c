// One process at a time for one name on this machine: an agent's state folder, or the calibration that agents share.
// A listening socket is the lock, because the system lets go of it however the process ends.
import { createHash } from 'node:crypto';
import { once } from 'node:events';
import { rm } from 'node:fs/promises';
import net from 'node:net';
import os from 'node:os';
import path from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { isErrno } from './publish-file.ts';

export type Holding = AsyncDisposable;

const retryMs = 100;

/** Null when another process holds the name now. */
export async function holdName(name: string): Promise<Holding | null> {
  const address = addressOf(name);
  const first = await listen(address);
  if (first || !isFile(address) || (await answers(address))) return first;
  // A socket file that nobody listens on is left from a process that was killed.
  await rm(address, { force: true });
  return listen(address);
}

/** Waits until the name is free, at most `limitMs`; null after that. */
export async function waitForName(
  name: string,
  limitMs: number,
  signal: AbortSignal,
): Promise<Holding | null> {
  for (let waitedMs = 0; ; waitedMs += retryMs) {
    const holding = await holdName(name);
    if (holding || waitedMs >= limitMs) return holding;
    await sleep(retryMs, undefined, { signal });
  }
}

/** Linux has names without files, Windows has pipes; elsewhere a socket file has to do. */
function addressOf(name: string): string {
  const digest = createHash('sha256').update(name).digest('hex').slice(0, 32);
  if (process.platform === 'linux') return `\0nightmill-${digest}`;
  if (process.platform === 'win32') return `\\\\.\\pipe\\nightmill-${digest}`;
  return path.join(os.tmpdir(), `nightmill-${digest}.sock`);
}

function isFile(address: string): boolean {
  return process.platform !== 'win32' && !address.startsWith('\0');
}

async function listen(address: string): Promise<Holding | null> {
  const server = net.createServer((socket) => socket.destroy());
  server.listen(address);
  try {
    await once(server, 'listening');
  } catch (error) {
    if (isErrno(error, 'EADDRINUSE', 'EACCES')) return null;
    throw error;
  }
  server.unref();
  return {
    [Symbol.asyncDispose]: () => new Promise((resolve) => server.close(() => resolve())),
  };
}

async function answers(address: string): Promise<boolean> {
  const socket = net.connect(address);
  try {
    await once(socket, 'connect');
    return true;
  } catch {
    return false;
  } finally {
    socket.destroy();
  }
}
