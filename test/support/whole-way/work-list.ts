// The cases of a matrix as work for a farm: sources placed and jobs submitted at once, so that the farm is never idle;
// deliverables handed out as they are asked for.
import { createHash } from 'node:crypto';
import { readFile, stat } from 'node:fs/promises';
import { expect } from 'vitest';
import type { JobDetail } from '#shared/job.ts';
import type { Farm } from '../farm/farm.ts';
import { nameOnVolume } from '../farm/volumes.ts';
import { makeSource, type Source, type SourceName } from '../sources/make-source.ts';
import type { MatrixCase } from './cases.ts';
import { type Delivered, observeDelivered } from './expect-deliverable.ts';
import { madeFilm } from './reference.ts';

/** A job may wait for all that were submitted before it. */
export const queueMs = 900_000;

export type WorkList = {
  submitAll(cases: readonly MatrixCase[]): Promise<void>;
  /** Waits for the job of a case; fails unless it is delivered. */
  deliver(one: MatrixCase): Promise<Delivered>;
  jobs(): Promise<readonly JobDetail[]>;
  /** Names of sources whose bytes or times are others than before (N5). */
  touchedSources(): Promise<readonly SourceName[]>;
};

type Untouched = { readonly sha256: string; readonly modifiedMs: number };
type Placed = { readonly source: Source; readonly volumePath: string; readonly before: Untouched };

export function createWorkList(farm: () => Farm): WorkList {
  const placed = new Map<SourceName, Placed>();
  const jobIds = new Map<string, Promise<string>>();

  async function submitSource(name: SourceName, cases: readonly MatrixCase[]): Promise<void> {
    const { volumePath } = await place(farm(), name, placed);
    const submit = async ({ format }: MatrixCase) =>
      (await farm().client.submit({ source: volumePath, format, to: `share:${format}` })).id;
    const [first, ...others] = cases;
    if (first === undefined) return;
    const id = await submit(first);
    jobIds.set(keyOf(first), Promise.resolve(id));
    for (const other of others) {
      const submitted = whenPlanned(farm(), id).then(() => submit(other));
      // Told by the test that waits for it.
      submitted.catch(() => {});
      jobIds.set(keyOf(other), submitted);
    }
  }

  return {
    async submitAll(cases) {
      const names = [...new Set(cases.map(({ source }) => source))];
      for (const name of names) {
        const ofThis = cases.filter(({ source }) => source === name);
        await submitSource(name, ofThis);
      }
    },
    async deliver(one) {
      const id = await jobIds.get(keyOf(one));
      const source = placed.get(one.source)?.source;
      if (id === undefined || source === undefined) throw new Error(`${keyOf(one)} was not submitted`);
      const job = await farm().waitFor(id, queueMs);
      expect(job, job.reason ?? '').toMatchObject({ state: 'delivered', reason: null });
      return observeDelivered(madeFilm(source), job, farm().deliverablePath(job));
    },
    jobs: () => Promise.all([...jobIds.values()].map(async (id) => farm().client.job(await id))),
    async touchedSources() {
      const now = [...placed].map(async ([name, { source, before }]) => {
        const { sha256, modifiedMs } = await lookAt(source.path);
        return sha256 === before.sha256 && modifiedMs === before.modifiedMs ? [] : [name];
      });
      return (await Promise.all(now)).flat();
    },
  };
}

function keyOf({ source, format }: MatrixCase): string {
  return `${format} of ${source}`;
}

async function place(farm: Farm, name: SourceName, placed: Map<SourceName, Placed>): Promise<Placed> {
  const source = await makeSource(name);
  const before = await lookAt(source.path);
  const volumePath = await farm.addSource(source.path, nameOnVolume(name, source.path));
  const entry = { source, volumePath, before };
  placed.set(name, entry);
  return entry;
}

/** By then the source is inspected, so that its other jobs need no inspection of their own. */
function whenPlanned({ changes }: Farm, id: string): Promise<unknown> {
  const planned = () => changes.of(id).some(({ type }) => type === 'planned' || type === 'failed');
  return changes.until(`${id} is planned`, planned, queueMs);
}

async function lookAt(path: string): Promise<Untouched> {
  const [bytes, { mtimeMs }] = await Promise.all([readFile(path), stat(path)]);
  return { sha256: createHash('sha256').update(bytes).digest('hex'), modifiedMs: mtimeMs };
}
