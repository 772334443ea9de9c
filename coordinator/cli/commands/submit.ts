// `submit`: sends sources to a running coordinator, and waits for what becomes of them if asked to.
import { randomUUID } from 'node:crypto';
import type { JobDetail, JobSummary, Problem } from '#shared/job.ts';
import type { Client } from '../client.ts';
import { printable } from '../display.ts';
import { type ExitCode, exitCodes } from '../exit-codes.ts';
import { createProgressMeter } from '../progress-meter.ts';
import type { Terminal } from '../terminal.ts';
import { waitForJobs } from '../wait-for-jobs.ts';
import { tellReports } from './report.ts';

export type SubmitRequest = {
  readonly sources: readonly string[];
  readonly format: string;
  readonly to: string;
  readonly priority: number;
  readonly replace?: boolean;
  readonly wait?: boolean;
  readonly json?: boolean;
  /** Idempotency-Key; a new one when none is given. */
  readonly key?: string;
};

type Taken = {
  readonly jobs: readonly JobSummary[];
  readonly refused: readonly { readonly position: number; readonly problem: Problem }[];
};

export async function submit(client: Client, request: SubmitRequest, terminal: Terminal): Promise<ExitCode> {
  const taken = await send(client, request);
  for (const { position, problem } of taken.refused) {
    terminal.err(`${printable(request.sources[position] ?? '')}: ${printable(problem.detail)}`);
  }
  const refused = taken.refused.length > 0 ? exitCodes.wrongRequest : exitCodes.done;
  if (!request.wait) {
    if (request.json) terminal.out(JSON.stringify(taken, null, 2));
    else
      for (const job of taken.jobs)
        terminal.out(`${job.id}  ${printable(job.source)} → ${printable(job.deliverable)}`);
    return refused;
  }
  const jobIds = taken.jobs.map((job) => job.id);
  const meter = createProgressMeter(terminal, () => performance.now());
  const reports = await waitForJobs({ client, jobIds, meter, signal: terminal.interrupted });
  if (request.json) terminal.out(JSON.stringify(reports, null, 2));
  else tellReports(reports, terminal);
  return reports.every((report) => report.state === 'delivered') ? refused : exitCodes.workFailed;
}

/** The key lets a request whose answer was lost be sent again without making anything twice. */
async function send(client: Client, request: SubmitRequest): Promise<Taken> {
  const { sources, format, to, priority, replace = false } = request;
  const headers = { 'Idempotency-Key': request.key ?? randomUUID() };
  const [first, ...others] = sources.map((source) => ({ source, format, to, priority, replace }));
  if (others.length > 0) return client.post<Taken>('/v1/batches', { jobs: [first, ...others] }, headers);
  return { jobs: [await client.post<JobDetail>('/v1/jobs', first, headers)], refused: [] };
}
