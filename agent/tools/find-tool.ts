// Where a program lies on this machine's PATH, and how to start it so that it can't outlive the agent.
import { execFile } from 'node:child_process';
import { stat } from 'node:fs/promises';
import path from 'node:path';
import { promisify } from 'node:util';
import { MillError } from '#shared/errors.ts';

export type FoundTool = { readonly path: string; readonly bytes: number; readonly modifiedMs: number };

const found = new Map<string, FoundTool>();
let deathSignal: Promise<string | null> | undefined;

/** The first file of that name on PATH. Throws MillError `missing-tool`. A tool once found is not looked up again. */
export async function findTool(name: string): Promise<FoundTool> {
  const known = found.get(name);
  if (known) return known;
  const extension = process.platform === 'win32' ? '.exe' : '';
  for (const folder of (process.env['PATH'] ?? '').split(path.delimiter)) {
    const file = path.join(folder, name + extension);
    const stats = folder === '' ? null : await stat(file).catch(() => null);
    if (stats?.isFile()) {
      const tool = { path: file, bytes: stats.size, modifiedMs: stats.mtimeMs };
      found.set(name, tool);
      return tool;
    }
  }
  throw new MillError(
    'missing-tool',
    `${name} is not on this machine's PATH; install it (deploy/setup.sh does)`,
  );
}

export type Launch = { readonly file: string; readonly args: readonly string[] };

/**
 * What to start so that the tool ends with this process, even when that is killed outright. Linux asks the kernel
 * for it through `setpriv`; on Windows Node's job object does it. Elsewhere (macOS) a tool whose agent was killed
 * goes on until it next needs its scratch folder, which the agent's next start sweeps away.
 */
export async function tieToParent(file: string, args: readonly string[]): Promise<Launch> {
  deathSignal ??= findDeathSignal();
  const setpriv = await deathSignal;
  return setpriv === null
    ? { file, args }
    : { file: setpriv, args: ['--pdeathsig', 'KILL', '--', file, ...args] };
}

async function findDeathSignal(): Promise<string | null> {
  if (process.platform !== 'linux') return null;
  try {
    const setpriv = await findTool('setpriv');
    // BusyBox has a setpriv that doesn't know the option.
    await promisify(execFile)(setpriv.path, ['--pdeathsig', 'KILL', '--', '/bin/true'], { timeout: 5_000 });
    return setpriv.path;
  } catch {
    return null;
  }
}
