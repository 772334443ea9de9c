// `job ID`, `cancel ID`, `retry ID`: one job, and what can be done with it.
import type { JobDetail } from '#shared/job.ts';
import type { Client } from '../client.ts';
import { printable } from '../display.ts';
import { formatMoment } from '../figures.ts';
import { checkColumns, segmentColumns } from '../report-text.ts';
import { formatTable } from '../table.ts';
import type { Terminal } from '../terminal.ts';

export async function showJob(
  client: Client,
  { id, json = false }: { id: string; json?: boolean },
  terminal: Terminal,
): Promise<void> {
  const job = await client.get<JobDetail>(jobPath(id));
  if (json) terminal.out(JSON.stringify(job, null, 2));
  else tellJob(job, terminal);
}

export async function changeJob(
  client: Client,
  { id, action }: { id: string; action: 'cancel' | 'retry' },
  terminal: Terminal,
): Promise<void> {
  const job = await client.post<JobDetail>(`${jobPath(id)}/${action}`);
  terminal.out(`${job.id} is ${job.state}`);
}

export function jobPath(id: string): string {
  return `/v1/jobs/${encodeURIComponent(id)}`;
}

function tellJob(job: JobDetail, terminal: Terminal): void {
  const facts = describeJob(job).filter((entry): entry is [string, string] => entry[1] !== null);
  const width = Math.max(...facts.map(([name]) => name.length));
  for (const [name, value] of facts) terminal.out(`${name.padEnd(width)}  ${printable(value)}`);
  tellTable(formatTable(segmentColumns, job.segments, terminal.columns), terminal);
  tellTable(formatTable(checkColumns, job.checks, terminal.columns), terminal);
  for (const failure of job.failures) terminal.out(`\n${failure.stage}: ${printable(failure.message)}`);
}

function describeJob(job: JobDetail): [string, string | null][] {
  const picture = job.facts?.picture;
  return [
    ['job', job.id],
    ['state', job.state],
    ['source', job.source],
    ['picture', picture ? `${picture.codec}, ${picture.width}×${picture.height}` : null],
    ['format', `${job.format.name}, version ${job.format.version}`],
    ['deliverable', job.deliverable],
    ['frames', job.framesTotal === null ? null : `${job.framesDone} of ${job.framesTotal} stored`],
    ['grains', job.grains.total === null ? null : `${job.grains.stored} of ${job.grains.total} stored`],
    ['batch', job.batchId],
    ['received', formatMoment(job.receivedAt)],
    ['changed', formatMoment(job.changedAt)],
    ['in one piece', job.plan?.wholeBecause ?? null],
    ['reason', job.reason],
  ];
}

/** A table that has more than its titles, after an empty line. */
function tellTable(lines: readonly string[], terminal: Terminal): void {
  if (lines.length < 2) return;
  for (const line of ['', ...lines]) terminal.out(line);
}
