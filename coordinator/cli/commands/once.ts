// `once`: everything on this machine for one call. Checks, starts a small farm, submits, waits, reports, stops.
import type { JobDetail, JobSummary, Report } from '#shared/job.ts';
import { type Client, Refusal } from '../client.ts';
import { type ExitCode, exitCodes } from '../exit-codes.ts';
import { followSignal } from '../follow-signal.ts';
import { rejectWithoutLane } from '../once/lane-watch.ts';
import { type LocalFarm, startLocalFarm } from '../once/local-farm.ts';
import { type OnceReport, ofProblem, ofReport } from '../once/once-report.ts';
import {
  checkOnceRequest,
  type OnceOptions,
  type OnceRequest,
  type OnceSource,
} from '../once/once-request.ts';
import { createProgressMeter } from '../progress-meter.ts';
import type { Terminal } from '../terminal.ts';
import { waitForJobs } from '../wait-for-jobs.ts';
import { fetchJobs } from './jobs.ts';
import { tellReports } from './report.ts';

export type OnceCommand = OnceOptions & { readonly json?: boolean };

export async function once(
  paths: readonly string[],
  options: OnceCommand,
  terminal: Terminal,
): Promise<ExitCode> {
  const request = await checkOnceRequest(paths, options).catch((error: unknown) => {
    // No job came of it, so the list of reports is empty; the reason follows on standard error.
    if (options.json) terminal.out('[]');
    throw error;
  });
  const farm = await startLocalFarm(request, terminal.interrupted);
  let reports: OnceReport[];
  try {
    reports = await runJobs(request, farm, terminal);
  } finally {
    await farm.stop();
  }
  if (options.json) terminal.out(JSON.stringify(reports));
  else tellReports(reports, terminal);
  return exitCodeFor(reports);
}

/** A source that was never taken is a wrong request; a job that came to nothing is failed work. */
function exitCodeFor(reports: readonly OnceReport[]): ExitCode {
  const undelivered = reports.filter((report) => report.state !== 'delivered');
  if (undelivered.length === 0) return exitCodes.done;
  const refused = undelivered.every((report) => report.error?.stage === 'submit');
  return refused ? exitCodes.wrongRequest : exitCodes.workFailed;
}

type Taken = { readonly source: OnceSource; readonly jobId: string };

async function runJobs(request: OnceRequest, farm: LocalFarm, terminal: Terminal): Promise<OnceReport[]> {
  const { client } = farm;
  const answers = await submitAll(request, client);
  const taken = answers.filter((answer) => 'jobId' in answer);
  const finished = new Map<string, Report>();
  using untilEnded = followSignal(terminal.interrupted);
  try {
    const jobIds = taken.map(({ jobId }) => jobId);
    const meter = createProgressMeter(terminal, () => performance.now());
    const waiting = waitForJobs({ client, jobIds, meter, signal: terminal.interrupted });
    const hopeless = rejectWithoutLane(client, request, untilEnded.signal);
    for (const [index, report] of (await Promise.race([waiting, hopeless, farm.broken])).entries()) {
      finished.set(jobIds[index] ?? '', report);
    }
  } catch (error) {
    await callOff(client, taken);
    throw error;
  }
  return answers.map((answer) => {
    if ('report' in answer) return answer.report;
    const report = finished.get(answer.jobId);
    if (!report) throw new Error(`there is no report of ${answer.jobId}`);
    return ofReport(request, answer.source, report);
  });
}

/** A job for each source; of what the coordinator refuses, a report that says why. */
async function submitAll(
  request: OnceRequest,
  client: Client,
): Promise<(Taken | { readonly report: OnceReport })[]> {
  // In a data folder that was used before, work on these sources may still lie as it was left.
  const left =
    request.dataFolder === null ? [] : await fetchJobs(client, { limit: Number.POSITIVE_INFINITY });
  const answers: (Taken | { readonly report: OnceReport })[] = [];
  for (const source of request.sources) {
    const earlier = left.find((job) => isSameWork(job, source, request));
    answers.push(earlier ? { source, jobId: earlier.id } : await submitOne(request, source, client));
  }
  return answers;
}

async function submitOne(
  request: OnceRequest,
  source: OnceSource,
  client: Client,
): Promise<Taken | { report: OnceReport }> {
  const submission = { source: source.volumePath, format: request.format.name, to: request.to };
  try {
    const { id } = await client.post<JobDetail>('/v1/jobs', submission);
    return { source, jobId: id };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return { report: ofProblem(request, source, error.problem) };
  }
}

function isSameWork(job: JobSummary, source: OnceSource, { format, to }: OnceRequest): boolean {
  const working = !['delivered', 'held', 'failed', 'cancelled'].includes(job.state);
  return (
    working &&
    job.source === source.volumePath &&
    job.format.name === format.name &&
    job.deliverable.startsWith(to)
  );
}

/** As far as it can: the coordinator may be what is broken. */
async function callOff(client: Client, taken: readonly Taken[]): Promise<void> {
  await Promise.allSettled(taken.map(({ jobId }) => client.post(`/v1/jobs/${jobId}/cancel`)));
}
