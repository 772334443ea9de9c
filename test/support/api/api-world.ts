// The HTTP room on a real book and a real intake, with two volumes in a temporary folder. Machines, progress and the
// agents' link are values that a test sets and messages that it reads.
import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import { MillError } from '#shared/errors.ts';
import { builtInFormats } from '#shared/house-formats.ts';
import type { Machine } from '#shared/job.ts';
import type { Progress } from '#shared/link.ts';
import type { ApiPorts, Control, Farm } from '../../../coordinator/api/api-ports.ts';
import { createApp } from '../../../coordinator/api/app.ts';
import { createIntake } from '../../../coordinator/intake/submit.ts';
import type { JobBook } from '../../../coordinator/ledger/job-book.ts';
import { openMemoryBook } from '../../../coordinator/ledger/open-job-book.ts';
import type { JobEvent } from '../../../coordinator/state/job-events.ts';
import { tempFolder } from '../temp-folder.ts';
import { recordingLink } from './recording-link.ts';

export type ApiWorld = Awaited<ReturnType<typeof createApiWorld>>;

/** Call inside a test. The volume `rushes` holds A001.mov and B002.mov; `share` is empty. */
export async function createApiWorld(changes: Partial<ApiPorts> = {}) {
  const folder = await tempFolder();
  const volumes = { rushes: join(folder, 'rushes'), share: join(folder, 'share') };
  await Promise.all(Object.values(volumes).map((path) => mkdir(path)));
  await Promise.all(
    ['A001.mov', 'B002.mov'].map((name) => writeFile(join(volumes.rushes, name), 'pictures')),
  );
  const faults: unknown[] = [];
  const reportFault = (error: unknown) => void faults.push(error);
  const book = openMemoryBook({ clock: () => Date.now(), reportFault });
  onTestFinished(() => book.close());
  const farm = createFarm();
  const link = recordingLink(join(folder, 'granary'));
  const ports: ApiPorts = {
    book,
    intake: createIntake({ book, volumes, formats: builtInFormats, ...intakeParts() }),
    control: createControl(book),
    farm,
    link,
    formats: builtInFormats,
    volumes,
    clock: () => Date.now(),
    token: null,
    version: '1.2.3',
    reportFault,
    ...changes,
  };
  const app = createApp(ports, { keepAliveMs: 30, progressMs: 5 });
  return {
    app,
    book,
    farm,
    link,
    volumes,
    faults,
    get: (path: string, headers: Record<string, string> = {}) => app.request(path, { headers }),
    post: (path: string, body: unknown, headers: Record<string, string> = {}) =>
      app.request(path, {
        method: 'POST',
        headers: { 'Content-Type': 'application/json', ...headers },
        body: typeof body === 'string' ? body : JSON.stringify(body),
      }),
  };
}

export const submission = { source: 'rushes:A001.mov', format: 'edit-proxy', to: 'share:proxies' };

function intakeParts() {
  let last = 0;
  return {
    newJobId: () => {
      last += 1;
      return `jtest${String(last).padStart(6, '0')}`;
    },
    codecsOnFarm: () => null,
    wake: () => {},
  };
}

function createControl(book: JobBook): Control {
  const change = (jobId: string, event: JobEvent) => {
    const recorded = book.record(jobId, event);
    if ('refused' in recorded) throw new MillError('wrong-state', recorded.refused);
    return recorded.record;
  };
  return {
    cancel: (jobId) => change(jobId, { type: 'cancelled' }),
    retry: (jobId) => change(jobId, { type: 'retried' }),
  };
}

type Listener = Parameters<Farm['onProgress']>[0];

function createFarm() {
  const listeners = new Set<Listener>();
  const progress = new Map<string, Map<number, Progress>>();
  return {
    list: [] as Machine[],
    reason: null as string | null,
    machines() {
      return this.list;
    },
    notReady() {
      return this.reason;
    },
    progressOf: (jobId: string): ReadonlyMap<number, Progress> => progress.get(jobId) ?? new Map(),
    onProgress(listener: Listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    listeners,
    /** What an agent would report. */
    tell(jobId: string, attempt: number, news: Progress) {
      progress.set(jobId, new Map(progress.get(jobId)).set(attempt, news));
      for (const listener of listeners) listener(jobId, attempt, news);
    },
  };
}
