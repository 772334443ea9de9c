// A small farm for a benchmark: coordinator and agents as real processes, with everything at its default but the folders.
import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import type { JobDetail, Machine, Submission } from '#shared/job.ts';
import { ask, followNews, send } from '../../../deploy/demo/coordinator-api.ts';
import { type Program, startProgram } from '../../../deploy/demo/program.ts';

export type BenchFarm = AsyncDisposable & {
  /** Folder of the volume `rushes:`. */
  readonly rushes: string;
  readonly agentPids: readonly number[];
  submit(job: Pick<Submission, 'source' | 'to'>): Promise<string>;
  /** The job's changes up to the delivery; throws when it comes to nothing. */
  changesOf(jobId: string): Promise<Change[]>;
  cancel(jobId: string): Promise<void>;
};

export type Change = {
  readonly jobId: string;
  readonly at: string;
  readonly type: string;
  readonly detail: Readonly<Record<string, string | number | boolean | null>>;
};

export type FarmOptions = { readonly folder: string; readonly agents: number; readonly format: string };

const script = (name: string) => fileURLToPath(new URL(`../../../${name}/main.ts`, import.meta.url));
const calibration = fileURLToPath(
  new URL('../../../node_modules/.cache/nightmill-bench/calibration', import.meta.url),
);
const readyLimitMs = 3 * 60_000;
const jobLimitMs = 30 * 60_000;

/** Resolves when every agent has a measured lane for the format. */
export async function startBenchFarm(options: FarmOptions): Promise<BenchFarm> {
  const { folder, agents, format } = options;
  const volumes = { rushes: join(folder, 'rushes'), share: join(folder, 'share') };
  await Promise.all([...Object.values(volumes), calibration].map((path) => mkdir(path, { recursive: true })));
  await using started = new AsyncDisposableStack();
  const start = async (name: string, program: 'coordinator' | 'agent', config: object): Promise<Program> => {
    const file = join(folder, `${name}.json`);
    await writeFile(file, JSON.stringify(config));
    const command = [script(program), '--config', file, '--end-with-parent'] as const;
    const running = startProgram({
      name,
      command: [...command],
      logFile: join(folder, `${name}.log`),
      niceness: 0,
    });
    started.defer(() => running.stop(false));
    return running;
  };
  const listen = { host: '127.0.0.1', port: 0 };
  const coordinator = await start('coordinator', 'coordinator', {
    listen,
    dataFolder: join(folder, 'data'),
    volumes,
  });
  const ready = await Promise.race([coordinator.firstLine, coordinator.broken]);
  const { ready: url } = JSON.parse(ready) as { ready: string };
  const programs: Program[] = [];
  for (let number = 1; number <= agents; number += 1) {
    const name = `agent-${number}`;
    const config = {
      coordinator: url,
      name,
      volumes,
      state: join(folder, 'agents'),
      calibration,
      formats: [format],
    };
    programs.push(await start(name, 'agent', config));
  }
  await untilReady(url, agents, format);
  const running = started.move();
  const never = new AbortController().signal;
  return {
    rushes: volumes.rushes,
    agentPids: programs.map(({ pid }) => pid ?? 0),
    submit: async (job) =>
      (
        await send<JobDetail>(url, '/v1/jobs', {
          key: crypto.randomUUID(),
          body: { ...job, format },
          signal: never,
        })
      ).id,
    changesOf: (jobId) => changesOf(url, jobId),
    cancel: async (jobId) =>
      void (await send(url, `/v1/jobs/${jobId}/cancel`, {
        key: crypto.randomUUID(),
        body: {},
        signal: never,
      })),
    [Symbol.asyncDispose]: () => running.disposeAsync(),
  };
}

async function untilReady(url: string, agents: number, format: string): Promise<void> {
  const limit = AbortSignal.timeout(readyLimitMs);
  for (;;) {
    const { items } = await ask<{ items: Machine[] }>(url, '/v1/machines', limit);
    const rated = items.filter(({ lanes }) =>
      lanes.some(
        (lane) => lane.proven && Object.keys(lane.rates).some((key) => key.startsWith(`${format}@`)),
      ),
    );
    // The coordinator's own helper is a machine, too.
    const heard = items.filter(({ alive }) => alive).length;
    if (rated.length === agents && heard > agents) return;
    await sleep(100, undefined, { signal: limit });
  }
}

async function changesOf(url: string, jobId: string): Promise<Change[]> {
  const changes: Change[] = [];
  for await (const { event, data } of followNews(url, AbortSignal.timeout(jobLimitMs))) {
    if (event !== 'change') continue;
    const change = data as Change;
    if (change.jobId !== jobId) continue;
    changes.push(change);
    if (change.type === 'failed' || change.type === 'held')
      throw new Error(`${jobId} ${change.type}: ${change.detail['reason']}`);
    if (change.type === 'ended' && change.detail['kind'] === 'deliver') return changes;
  }
  throw new Error('the stream of changes ended');
}
