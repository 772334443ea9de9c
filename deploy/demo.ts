// Shows the whole way of a night's work in a few minutes on this machine: a film of its own, a coordinator, three
// unequal machines, two jobs over HTTP, who encodes what, the reports. Exit code 0 only if all was checked and delivered.
//   npm run demo
import { mkdir, mkdtemp, realpath, rm, stat } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Report } from '#shared/job.ts';
import { ask } from './demo/coordinator-api.ts';
import { formatSeconds } from './demo/draw-films.ts';
import { type Folders, startFarm } from './demo/farm.ts';
import type { FilmProgress } from './demo/film-progress.ts';
import { makeFilm } from './demo/make-film.ts';
import { orderAndFollow } from './demo/order-and-follow.ts';
import { film, studio } from './demo/scenario.ts';
import { openScreen } from './demo/screen.ts';
import { type Told, tellReport } from './demo/tell-report.ts';
import { untilMachinesAreReady } from './demo/wait-for-machines.ts';

const exitCodes = { done: 0, failed: 1, interrupted: 130 } as const;
/** Film and calibration are made once. */
const kept = fileURLToPath(new URL('../.cache/demo', import.meta.url));

process.exitCode = await runDemo(interruption());

async function runDemo(signal: AbortSignal): Promise<number> {
  const run = await mkdtemp(join(await realpath(tmpdir()), 'nightmill-demo-'));
  const folders: Folders = {
    rushes: join(kept, 'rushes'),
    calibration: join(kept, 'calibration'),
    work: join(run, 'work'),
    delivery: join(run, 'delivery'),
  };
  try {
    const told = await show(folders, signal);
    const good = told.every(isGood);
    if (good) await rm(folders.work, { recursive: true, force: true, maxRetries: 5 });
    say(
      '',
      good
        ? `Checked and delivered. The files are kept in ${folders.delivery}`
        : `Not all was delivered. Logs: ${folders.work}`,
    );
    return good ? exitCodes.done : exitCodes.failed;
  } catch (error) {
    if (signal.aborted) {
      await rm(run, { recursive: true, force: true, maxRetries: 5 });
      say('', 'Interrupted; nothing is left running, nothing was kept.');
      return exitCodes.interrupted;
    }
    say('', error instanceof Error ? error.message : String(error), `Logs: ${folders.work}`);
    return exitCodes.failed;
  }
}

async function show(folders: Folders, signal: AbortSignal): Promise<Told[]> {
  say(`${studio}: one film, three machines, two deliverables`, '');
  await mkdir(folders.calibration, { recursive: true });
  await step(`The film: ${film.title}`, () => makeFilm(join(folders.rushes, film.path), signal));
  const farm = await step('The coordinator and its machines start', () => startFarm(folders));
  try {
    const work = async (): Promise<Told[]> => {
      await step('The machines prove and measure their encoders', () =>
        untilMachinesAreReady(farm.url, signal, say),
      );
      say(
        '',
        `The work, in frames (a capital letter is stored, a small one leased); the coordinator answers at ${farm.url}`,
      );
      const jobs = await orderAndFollow(farm.url, openScreen(process.stdout), signal);
      return Promise.all(jobs.map((job) => askReport(farm.url, folders, job)));
    };
    const told = await Promise.race([work(), farm.broken]);
    for (const one of told) say('', ...tellReport(one));
    return told;
  } finally {
    await farm.stop(signal.aborted);
  }
}

async function askReport(url: string, folders: Folders, job: FilmProgress): Promise<Told> {
  const report = await ask<Report>(url, `/v1/jobs/${job.jobId}/report`, AbortSignal.timeout(10_000));
  const seconds = (Date.parse(job.changedAt) - Date.parse(job.receivedAt)) / 1000;
  const file = report.deliverable?.replace('delivery:', join(folders.delivery, '/')) ?? null;
  const found = file === null ? null : await stat(file).catch(() => null);
  // What the report says is there must be there.
  return { report, seconds, file: found?.size === report.bytes ? file : null };
}

function isGood({ report: { state, checks }, file }: Told): boolean {
  return state === 'delivered' && file !== null && checks.length > 0 && checks.every(({ ok }) => ok);
}

async function step<T>(title: string, work: () => Promise<T>): Promise<T> {
  say(title);
  const startedMs = performance.now();
  const result = await work();
  say(`  done in ${formatSeconds((performance.now() - startedMs) / 1000)}`);
  return result;
}

function say(...lines: string[]): void {
  for (const line of lines) process.stdout.write(`${line}\n`);
}

/** Fires on Ctrl-C and when the system asks to end; a second wish is meant at once. */
function interruption(): AbortSignal {
  const controller = new AbortController();
  for (const name of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) {
    process.on(name, () => {
      if (controller.signal.aborted) process.exit(exitCodes.interrupted);
      controller.abort(new Error('interrupted'));
    });
  }
  return controller.signal;
}
