// File systems of a test's own: small ones that fill up, ones that can't be written. Root ignores permissions, so that
// nothing else keeps it from writing.
import { mkdir, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { execa } from 'execa';
import { onTestFinished } from 'vitest';

type Mount = AsyncDisposable & { readonly path: string };

/** A file system in memory that holds so many megabytes, until the test has finished. Call before a farm uses it. */
export async function mountForTest(megabytes: number): Promise<string> {
  const mount = await mountMemory(megabytes);
  // Hooks of this kind run last one first: whoever uses it is gone by then.
  onTestFinished(() => mount[Symbol.asyncDispose]());
  return mount.path;
}

/** From now on nothing in it can be written. */
export async function makeReadOnly(path: string): Promise<void> {
  await execa('mount', ['-o', 'remount,ro', path]);
}

export async function enlarge(path: string, megabytes: number): Promise<void> {
  await execa('mount', ['-o', `remount,size=${megabytes}m`, path]);
}

async function mountMemory(megabytes: number): Promise<Mount> {
  const path = await mkdtemp(join(tmpdir(), 'nightmill-mount-'));
  await execa('mount', ['-t', 'tmpfs', '-o', `size=${megabytes}m`, 'tmpfs', path]);
  return {
    path,
    async [Symbol.asyncDispose]() {
      await execa('umount', [path]);
      await rm(path, { recursive: true });
    },
  };
}

/** Mounting takes Linux and root, and containers often forbid it even then. */
export async function canMount(): Promise<boolean> {
  if (process.platform !== 'linux') return false;
  try {
    await using mount = await mountMemory(1);
    await mkdir(join(mount.path, 'try'));
    return true;
  } catch {
    return false;
  }
}
