// What may not be left of a farm's work when its jobs rest: pieces of ended jobs, temporary files, half a deliverable.
import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import type { JobSummary } from '#shared/job.ts';
import type { Changes } from './changes.ts';
import type { FarmClient } from './client.ts';
import { listFiles } from './volumes.ts';

/** What is looked at of a farm. */
export type LookedAt = {
  readonly client: FarmClient;
  readonly changes: Changes;
  readonly folder: string;
  readonly share: string;
  readonly dataFolder: string;
};

const sweepLimitMs = 10_000;

/** One sentence for each thing that is left. The farm still runs. `foreign` are names on the share that a test put there. */
export async function findLeftovers(farm: LookedAt, foreign: readonly string[]): Promise<string[]> {
  const jobs = await farm.client.jobs();
  return [
    ...unexpectedOnShare(await listFiles(farm.share), jobs, foreign),
    ...(await piecesOfEndedJobs(farm, jobs)),
    ...(await scratchOf(farm, jobs)),
  ];
}

function unexpectedOnShare(
  names: readonly string[],
  jobs: readonly JobSummary[],
  foreign: readonly string[],
): string[] {
  const delivered = jobs
    .filter((job) => job.state === 'delivered')
    .map((job) => job.deliverable.slice('share:'.length));
  const expected = new Set([...foreign, ...delivered, ...delivered.map((name) => `${name}.report.json`)]);
  return names.filter((name) => !expected.has(name)).map((name) => `the share holds ${name}`);
}

/** Sweeping goes on in the background after a job has ended. */
async function piecesOfEndedJobs(farm: LookedAt, jobs: readonly JobSummary[]): Promise<string[]> {
  const over = jobs.filter((job) => ['delivered', 'failed', 'cancelled'].includes(job.state));
  const left = async () => {
    const folders: string[] = await readdir(join(farm.dataFolder, 'granary')).catch(() => []);
    return over.filter((job) => folders.includes(job.id));
  };
  await farm.changes
    .until('the granary is swept', async () => (await left()).length === 0, sweepLimitMs)
    .catch(() => {});
  return (await left()).map((job) => `the granary holds pieces of ${job.id}, which is ${job.state}`);
}

/** While no job works, no agent has anything in its scratch. */
async function scratchOf(farm: LookedAt, jobs: readonly JobSummary[]): Promise<string[]> {
  const rested = jobs.every((job) => ['delivered', 'held', 'failed', 'cancelled'].includes(job.state));
  if (!rested) return [];
  const states = [join(farm.folder, 'agents'), join(farm.dataFolder, 'helper')];
  const left = async () =>
    (await Promise.all(states.map(listFiles)))
      .flat()
      .filter((name) => /\/scratch\/j[0-9a-z]+-a\d+\//.test(name));
  await farm.changes
    .until('scratch is empty', async () => (await left()).length === 0, sweepLimitMs)
    .catch(() => {});
  return (await left()).map((name) => `an agent's scratch holds ${name}`);
}
