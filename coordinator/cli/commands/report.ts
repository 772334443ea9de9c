// `report`: what was made of the jobs that are named, or of the newest ones that came to rest.
import { type JobSummary, type Report, restingStates } from '#shared/job.ts';
import type { Client } from '../client.ts';
import { formatReport } from '../report-text.ts';
import type { Terminal } from '../terminal.ts';
import { jobPath } from './job.ts';
import { fetchJobs } from './jobs.ts';

export type ReportOptions = { readonly limit: number; readonly json?: boolean };

export async function showReports(
  client: Client,
  request: ReportOptions & { readonly ids: readonly string[] },
  terminal: Terminal,
): Promise<void> {
  const ids = request.ids.length > 0 ? request.ids : await newestAtRest(client, request.limit);
  const reports: Report[] = [];
  for (const id of ids) reports.push(await client.get<Report>(`${jobPath(id)}/report`));
  if (request.json) terminal.out(JSON.stringify(reports, null, 2));
  else if (reports.length === 0) terminal.err('no job has come to rest yet');
  else tellReports(reports, terminal);
}

export function tellReports(
  reports: readonly Parameters<typeof formatReport>[0][],
  terminal: Terminal,
): void {
  for (const [index, report] of reports.entries()) {
    if (index > 0) terminal.out('');
    for (const line of formatReport(report, terminal.columns)) terminal.out(line);
  }
}

async function newestAtRest(client: Client, limit: number): Promise<string[]> {
  const jobs: JobSummary[] = [];
  for (const state of restingStates) jobs.push(...(await fetchJobs(client, { state, limit })));
  return jobs
    .toSorted((a, b) => b.changedAt.localeCompare(a.changedAt))
    .slice(0, limit)
    .map((job) => job.id);
}
