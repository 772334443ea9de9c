// A real agent process for a test: started from main.ts as a user would, ended with the test, its log readable.
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { execa } from 'execa';
import { onTestFinished } from 'vitest';
import { addToCalibration, proofKey } from '../../agent/lanes/calibration-store.ts';
import { readFfmpegVersion } from '../../agent/lanes/ffmpeg-version.ts';
import { softwareLanes } from '../../agent/lanes/software-lanes.ts';
import { readMachineFacts } from '../../agent/tools/machine-facts.ts';

export type AgentProcess = {
  readonly pid: number;
  /** Lines of its log, as objects; other lines of standard error as `{ text }`. */
  readonly log: Record<string, unknown>[];
  readonly exit: Promise<{ code: number | null; signal: string | null }>;
  kill(signal: NodeJS.Signals): void;
  /** Closes its standard input, as the end of its parent does. */
  closeInput(): void;
};

export type AgentOptions = {
  readonly coordinator: string;
  /** Holds state, scratch and a volume `media` in folders of these names. */
  readonly folder: string;
  readonly words?: readonly string[];
  readonly environment?: Readonly<Record<string, string>>;
};

const program = fileURLToPath(new URL('../../agent/main.ts', import.meta.url));

/** Call inside a test: the process is killed when the test has finished. */
export async function startAgentProcess({
  coordinator,
  folder,
  words = [],
  environment = {},
}: AgentOptions): Promise<AgentProcess> {
  await mkdir(join(folder, 'media'), { recursive: true });
  const args = ['--coordinator', coordinator, '--name', 'suite-2', '--state', join(folder, 'state')];
  const volume = ['--volume', `media=${join(folder, 'media')}`];
  const child = spawn(process.execPath, [program, ...args, ...volume, ...words], {
    stdio: ['pipe', 'ignore', 'pipe'],
    env: { ...process.env, ...environment },
  });
  const exit = once(child, 'exit').then(([code, signal]) => ({ code, signal }));
  const log = readLog(child);
  onTestFinished(async ({ task }) => {
    if (task.result?.state === 'fail') console.error(`the agent's log: ${JSON.stringify(log, null, 1)}`);
    if (child.exitCode === null) child.kill('SIGKILL');
    await exit;
  });
  return {
    pid: child.pid ?? 0,
    log,
    exit,
    kill: (signal) => void child.kill(signal),
    closeInput: () => void child.stdin?.end(),
  };
}

/** Lets the next agent of `folder` believe that all its lanes are proven, so that a test of other things need not wait. */
export async function believeLanes(folder: string): Promise<void> {
  const calibration = join(folder, 'state', 'calibration');
  const known = { schema: 1, ffmpegs: {}, proofs: {}, rates: {} } as const;
  const ffmpegVersion = await readFfmpegVersion(calibration, known, new AbortController().signal);
  const ground = { ffmpegVersion, machine: readMachineFacts() };
  const proofs = softwareLanes.map(
    ({ encoder }) => [proofKey(ground, encoder), { libraryVersion: null }] as const,
  );
  await addToCalibration(calibration, { proofs: Object.fromEntries(proofs) });
}

/** Process ids of the running children of `parent` that have this name. */
export async function childrenOf(parent: number, name: string): Promise<number[]> {
  const { stdout } = await execa('ps', ['-A', '-o', 'pid=,ppid=,comm=']);
  return stdout
    .split('\n')
    .map((line) => line.trim().split(/\s+/))
    .filter(([, ppid, comm]) => Number(ppid) === parent && comm === name)
    .map(([pid]) => Number(pid));
}

/** Resident memory of one process, without its children. */
export async function residentMegabytes(pid: number): Promise<number> {
  const { stdout } = await execa('ps', ['-o', 'rss=', '-p', String(pid)]);
  return (Number(stdout.trim()) * 1024) / 1e6;
}

export function isRunning(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch {
    return false;
  }
}

function readLog(child: ChildProcess): Record<string, unknown>[] {
  const lines: Record<string, unknown>[] = [];
  if (child.stderr) {
    createInterface({ input: child.stderr }).on('line', (text) => {
      lines.push(text.startsWith('{') ? (JSON.parse(text) as Record<string, unknown>) : { text });
    });
  }
  return lines;
}
