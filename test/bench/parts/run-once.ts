// Runs `nightmill once` as a user would: a process of its own, everything started and stopped with it.
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { execa } from 'execa';
import type { Report } from '#shared/job.ts';
import { type PeakMemory, watchMemory } from './watch-memory.ts';

const program = fileURLToPath(new URL('../../../coordinator/cli/main.ts', import.meta.url));
/** What is measured of this machine is kept between runs, so that no run measures it again. */
const cacheFolder = fileURLToPath(
  new URL('../../../node_modules/.cache/nightmill-bench/cache', import.meta.url),
);
const limitMs = 60 * 60_000;

export type OnceRun = {
  readonly seconds: number;
  readonly report: Pick<
    Report,
    'state' | 'frames' | 'grains' | 'segments' | 'checks' | 'deliverable' | 'error'
  >;
  readonly memory: PeakMemory;
};

export type OnceRequest = {
  readonly film: string;
  readonly format: string;
  readonly to: string;
  readonly agents: number;
};

/** Throws unless the film was checked and delivered. */
export async function runOnce({ film, format, to, agents }: OnceRequest): Promise<OnceRun> {
  const startedMs = performance.now();
  const words = ['once', film, '--format', format, '--to', to, '--agents', String(agents), '--json'];
  const running = execa(process.execPath, [program, ...words], {
    stdin: 'ignore',
    timeout: limitMs,
    reject: false,
    env: { XDG_CACHE_HOME: cacheFolder },
  });
  const memory = watchMemory(running.pid ?? 0);
  const { stdout, stderr } = await running;
  const seconds = (performance.now() - startedMs) / 1000;
  const peaks = await memory.stop();
  const [report] = JSON.parse(stdout.trimEnd().split('\n').at(-1) ?? '[]') as OnceRun['report'][];
  if (report?.state !== 'delivered') {
    throw new Error(`${film} was not delivered to ${join(to)}: ${report?.error?.message ?? stderr}`);
  }
  return { seconds, report, memory: peaks };
}
