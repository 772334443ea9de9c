// `jobs`: the list, newest first.
import type { JobSummary } from '#shared/job.ts';
import type { Client } from '../client.ts';
import { formatMoment } from '../figures.ts';
import { type Column, formatTable } from '../table.ts';
import type { Terminal } from '../terminal.ts';

export type JobsOptions = {
  readonly state?: string;
  readonly batch?: string;
  readonly limit: number;
  readonly json?: boolean;
};

type Page = { readonly items: readonly JobSummary[]; readonly nextCursor: string | null };

const columns: readonly Column<JobSummary>[] = [
  { title: 'job', value: (job) => job.id },
  { title: 'state', value: (job) => job.state },
  { title: 'source', value: (job) => job.source },
  { title: 'format', value: (job) => job.format.name },
  { title: 'frames', value: framesOf, right: true },
  { title: 'changed', value: (job) => formatMoment(job.changedAt) },
  { title: 'reason', value: (job) => job.reason ?? '' },
];

export async function listJobs(client: Client, options: JobsOptions, terminal: Terminal): Promise<void> {
  const jobs = await fetchJobs(client, options);
  if (options.json) terminal.out(JSON.stringify(jobs, null, 2));
  else if (jobs.length === 0) terminal.err('there are no such jobs');
  else for (const line of formatTable(columns, jobs, terminal.columns)) terminal.out(line);
}

/** At most `limit` of them, page after page. */
export async function fetchJobs(client: Client, { state, batch, limit }: JobsOptions): Promise<JobSummary[]> {
  const jobs: JobSummary[] = [];
  let cursor: string | null = null;
  do {
    const query = new URLSearchParams({ limit: String(Math.min(200, limit - jobs.length)) });
    if (state !== undefined) query.set('state', state);
    if (batch !== undefined) query.set('batch', batch);
    if (cursor !== null) query.set('cursor', cursor);
    const page: Page = await client.get<Page>(`/v1/jobs?${query.toString()}`);
    jobs.push(...page.items);
    cursor = page.nextCursor;
  } while (cursor !== null && jobs.length < limit);
  return jobs;
}

function framesOf({ framesDone, framesTotal }: JobSummary): string | null {
  return framesTotal === null ? null : `${framesDone} of ${framesTotal}`;
}
