// Scratch folders: one for each attempt, gone when it ends; what a killed agent left is swept when it starts again.
import { mkdir, readdir, rm } from 'node:fs/promises';
import path from 'node:path';

/** Makes an empty folder `name` below `root`. It removes itself: `await using scratch = …`. */
export async function makeScratch(
  root: string,
  name: string,
): Promise<AsyncDisposable & { readonly path: string }> {
  const folder = path.join(root, name);
  await removeTree(folder);
  await mkdir(folder, { recursive: true });
  return { path: folder, [Symbol.asyncDispose]: () => removeTree(folder) };
}

/** Empties `root`. Only for an agent that knows itself alone there (see hold-name.ts). Tells how many folders it removed. */
export async function sweepScratch(root: string): Promise<number> {
  await mkdir(root, { recursive: true });
  const left = await readdir(root);
  await Promise.all(left.map((name) => removeTree(path.join(root, name))));
  return left.length;
}

/** A program that is just ending may still hold a file open, which on Windows keeps it from being removed at once. */
async function removeTree(folder: string): Promise<void> {
  await rm(folder, { recursive: true, force: true, maxRetries: 10, retryDelay: 100 });
}
