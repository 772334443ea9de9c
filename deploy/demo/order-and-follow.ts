// Orders the deliverables and follows the work until every job is at rest, as a script of an editor might.
import { randomUUID } from 'node:crypto';
import type { JobDetail } from '#shared/job.ts';
import { followNews, send } from './coordinator-api.ts';
import {
  applyChange,
  applySpeed,
  type Change,
  type FilmProgress,
  type Films,
  isAtRest,
  type Speed,
} from './film-progress.ts';
import { film, wishes } from './scenario.ts';
import type { Screen } from './screen.ts';

const redrawMs = 500;

/** The jobs at rest, in the order of the wishes. */
export async function orderAndFollow(
  url: string,
  screen: Screen,
  signal: AbortSignal,
): Promise<FilmProgress[]> {
  const jobIds: string[] = [];
  for (const { format, to } of wishes) {
    const body = { source: `rushes:${film.path}`, format, to };
    const { id } = await send<JobDetail>(url, '/v1/jobs', { key: randomUUID(), body, signal });
    jobIds.push(id);
  }
  let films: Films = new Map();
  const wanted = () => jobIds.map((id) => films.get(id)).filter((one) => one !== undefined);
  const startedMs = performance.now();
  const show = () => screen.show(wanted(), (performance.now() - startedMs) / 1000);
  const redraw = setInterval(show, redrawMs);
  try {
    for await (const { event, data } of followNews(url, signal)) {
      if (event === 'change') films = applyChange(films, data as Change);
      if (event === 'progress') films = applySpeed(films, data as Speed);
      if (wanted().length === jobIds.length && wanted().every(isAtRest)) return wanted();
    }
    throw new Error('the coordinator ended its stream of changes');
  } finally {
    clearInterval(redraw);
    show();
    screen.end();
  }
}
