// Waits until jobs come to rest, and shows how far they are meanwhile. The stream only says which jobs have news;
// what the news is, their reports tell.
import { setTimeout as sleep } from 'node:timers/promises';
import type { Report } from '#shared/job.ts';
import { createBell } from '../api/bell.ts';
import { isAtRest } from './at-rest.ts';
import { type Client, Silence } from './client.ts';
import { followJobs, type JobNews } from './follow-jobs.ts';
import { followSignal } from './follow-signal.ts';
import type { ProgressMeter } from './progress-meter.ts';

export type Waiting = {
  readonly client: Client;
  readonly jobIds: readonly string[];
  readonly meter: ProgressMeter;
  /** Ends the waiting by throwing its reason. */
  readonly signal: AbortSignal;
};

/** Between two looks at the reports, so that much news costs no more than some. */
const pauseMs = 100;
const longestWaitMs = 60_000;
/** Until a coordinator that didn't answer is asked again. */
const retryMs = 1_000;

/** The reports in the order of the ids, once every job is delivered, held, failed or cancelled. */
export async function waitForJobs({ client, jobIds, meter, signal }: Waiting): Promise<Report[]> {
  const reports = new Map<string, Report>();
  const stale = new Set(jobIds);
  const bell = createBell();
  using untilDone = followSignal(signal);
  const listening: { refusal: Error | null } = { refusal: null };
  const hear = (news: JobNews) => {
    for (const id of jobIds) if (news === 'anything' || news.jobId === id) stale.add(id);
    if (stale.size > 0) bell.ring();
  };
  listen(client, untilDone.signal, hear).catch((error: Error) => {
    listening.refusal = error;
    bell.ring();
  });
  try {
    for (;;) {
      const ids = [...stale];
      stale.clear();
      for (const id of ids) {
        const report = await readReport(client, id);
        if (report === null) stale.add(id);
        else reports.set(id, report);
      }
      const all = jobIds.flatMap((id) => reports.get(id) ?? []);
      meter.show(all);
      if (stale.size === 0 && all.every(isAtRest)) return all;
      await sleep(pauseMs, undefined, { signal });
      await bell.wait(stale.size === 0 ? longestWaitMs : retryMs);
      if (listening.refusal !== null) throw listening.refusal;
    }
  } finally {
    meter.clear();
  }
}

/** Null when the coordinator doesn't answer: it may be starting again. */
async function readReport(client: Client, id: string): Promise<Report | null> {
  try {
    return await client.get<Report>(`/v1/jobs/${id}/report`);
  } catch (error) {
    if (error instanceof Silence) return null;
    throw error;
  }
}

async function listen(client: Client, signal: AbortSignal, hear: (news: JobNews) => void): Promise<void> {
  for await (const news of followJobs(client, signal)) hear(news);
}
