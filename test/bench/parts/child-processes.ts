// The processes below one, as Linux tells them: a few small files to read, so that looking often disturbs little.
import { readFile } from 'node:fs/promises';

export type ChildProcess = { readonly pid: number; readonly words: readonly string[] };

/** Children that the process's main thread started; Node starts all of its there. Empty once it is gone. */
export async function childrenOf(pid: number): Promise<ChildProcess[]> {
  const list = await readFile(`/proc/${pid}/task/${pid}/children`, 'utf8').catch(() => '');
  const pids = list.split(' ').filter((text) => text !== '');
  return Promise.all(pids.map(async (text) => ({ pid: Number(text), words: await wordsOf(Number(text)) })));
}

export async function descendantsOf(pid: number): Promise<ChildProcess[]> {
  const children = await childrenOf(pid);
  const below = await Promise.all(children.map((child) => descendantsOf(child.pid)));
  return [...children, ...below.flat()];
}

async function wordsOf(pid: number): Promise<string[]> {
  return (await readFile(`/proc/${pid}/cmdline`, 'utf8').catch(() => '')).split('\0');
}
