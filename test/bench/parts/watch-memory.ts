// The most memory that the processes of Nightmill itself held (resident), without ffmpeg and Redis. Read from /proc,
// which keeps each process's own peak, so looking now and then misses only the very end.
import { readFile } from 'node:fs/promises';
import { setTimeout as sleep } from 'node:timers/promises';
import { descendantsOf } from './child-processes.ts';

/** MiB; null where the system has no /proc. */
export type PeakMemory = { readonly coordinator: number | null; readonly agents: readonly number[] };

const lookEveryMs = 500;

/** Watches everything below process `pid`. */
export function watchMemory(pid: number): { stop(): Promise<PeakMemory> } {
  const peaks = new Map<number, { readonly agent: boolean; readonly mebibytes: number }>();
  const ending = new AbortController();
  const watching = watch(pid, peaks, ending.signal);
  return {
    async stop() {
      ending.abort();
      await watching;
      const of = (agent: boolean) =>
        [...peaks.values()].filter((peak) => peak.agent === agent).map(({ mebibytes }) => mebibytes);
      return { coordinator: of(false)[0] ?? null, agents: of(true) };
    },
  };
}

async function watch(
  pid: number,
  peaks: Map<number, { agent: boolean; mebibytes: number }>,
  signal: AbortSignal,
): Promise<void> {
  while (!signal.aborted) {
    for (const { pid: found, words } of await descendantsOf(pid)) {
      const agent = words.some((word) => word.endsWith('agent/main.ts'));
      if (!agent && !words.some((word) => word.endsWith('coordinator/main.ts'))) continue;
      const mebibytes = await peakOf(found);
      if (mebibytes !== null) peaks.set(found, { agent, mebibytes });
    }
    await sleep(lookEveryMs, undefined, { signal }).catch(() => {});
  }
}

async function peakOf(pid: number): Promise<number | null> {
  const status = await readFile(`/proc/${pid}/status`, 'utf8').catch(() => '');
  const kibibytes = /^VmHWM:\s*(\d+) kB/m.exec(status)?.[1];
  return kibibytes === undefined ? null : Math.round(Number(kibibytes) / 1024);
}
