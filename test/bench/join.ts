// What joining, checking and delivering take beside the encoding, and what the join alone takes beside a plain copy of
// the same bytes. The first is read off the changes of real jobs on a farm of two agents: from the last encoded piece to
// the delivery, over the time from the first encoder to the last piece. The second runs the join task itself on the
// grains of a long film, in turns with the copy.
import { createReadStream } from 'node:fs';
import { copyFile, open, rm } from 'node:fs/promises';
import { join as joinPath } from 'node:path';
import { builtInFormats } from '#shared/house-formats.ts';
import { joinGrains } from '../../agent/tasks/join-grains.ts';
import type { Bench, BenchGround, BenchOutcome } from './bench.ts';
import { type BenchFarm, type Change, startBenchFarm } from './parts/bench-farm.ts';
import { makeBenchFilm } from './parts/bench-film.ts';
import { median, round } from './parts/figures.ts';
import { prepareLongJoin } from './parts/long-join.ts';

export const join: Bench = {
  name: 'join',
  about: 'join, check and delivery of a review copy over its encoding; and the join alone against a copy',
  unit: 'of the encoding time',
  goal: 0.15,
  run: runJoin,
};

const filmSeconds = 60;
const jobs = 2;
const longFilmCopies = 100;
const shortFilmSeconds = 15;
const pairs = 5;
const copyGoal = 1.5;

async function runJoin(ground: BenchGround): Promise<BenchOutcome> {
  const alone = await measureJoinAlone(ground);
  const steps = await measureSteps(ground);
  return {
    value: median(steps.map((step) => step.after / step.encode)),
    detail: { filmSeconds, jobs: steps, joinAlone: alone },
  };
}

type Steps = {
  readonly encode: number;
  readonly join: number;
  readonly check: number;
  readonly deliver: number;
  readonly after: number;
};

async function measureSteps({ folder, tell }: BenchGround): Promise<Steps[]> {
  await using farm = await startBenchFarm({
    folder: joinPath(folder, 'farm'),
    agents: 2,
    format: 'review-copy',
  });
  await copyFile(await makeBenchFilm(filmSeconds), joinPath(farm.rushes, 'film.mp4'));
  const steps: Steps[] = [];
  for (let job = 1; job <= jobs; job += 1) {
    steps.push(await runJob(farm, job));
    tell(`job ${job}: ${JSON.stringify(steps.at(-1))}`);
  }
  return steps;
}

async function runJob(farm: BenchFarm, number: number): Promise<Steps> {
  const changes = await farm.changesOf(
    await farm.submit({ source: 'rushes:film.mp4', to: `share:${number}` }),
  );
  const made = [...spansOf(changes, 'encode'), ...spansOf(changes, 'sound')];
  const [begin, last] = [Math.min(...made.map(({ from }) => from)), Math.max(...made.map(({ to }) => to))];
  const delivered = Math.max(...spansOf(changes, 'deliver').map(({ to }) => to));
  const length = (kind: string) =>
    round(spansOf(changes, kind).reduce((total, { from, to }) => total + to - from, 0));
  return {
    encode: round(last - begin),
    join: length('join'),
    check: length('check'),
    deliver: length('deliver'),
    after: round(delivered - last),
  };
}

/** From when to when each attempt of a kind was open, seconds. */
function spansOf(changes: readonly Change[], kind: string): { from: number; to: number }[] {
  return changes
    .filter(({ type, detail }) => type === 'opened' && detail['kind'] === kind)
    .map((opened) => {
      const ended = changes.find(
        ({ type, detail }) => type === 'ended' && detail['attempt'] === opened.detail['attempt'],
      );
      if (!ended) throw new Error(`attempt ${opened.detail['attempt']} never ended`);
      return { from: Date.parse(opened.at) / 1000, to: Date.parse(ended.at) / 1000 };
    });
}

async function measureJoinAlone({ folder, tell }: BenchGround): Promise<object> {
  const format = builtInFormats.find(({ name }) => name === 'review-copy');
  if (!format) throw new Error('there is no review-copy');
  const film = await makeBenchFilm(shortFilmSeconds);
  const place = joinPath(folder, 'long');
  const { task, context, granary } = await prepareLongJoin(place, film, { format, copies: longFilmCopies });
  const [joins, copies]: [number[], number[]] = [[], []];
  let bytes = 0;
  for (let pair = 1; pair <= pairs; pair += 1) {
    const joined = await timed(() => joinGrains(task, context));
    const file = joinPath(granary, joined.result.file);
    const copied = await timed(() => plainCopy(file, joinPath(place, 'copy.mp4')));
    joins.push(joined.seconds);
    copies.push(copied.seconds);
    bytes = joined.result.bytes;
    await Promise.all([file, joinPath(place, 'copy.mp4')].map((path) => rm(path)));
    tell(`pair ${pair}: join ${joined.seconds} s, copy ${copied.seconds} s of ${Math.round(bytes / 1e6)} MB`);
  }
  await rm(place, { recursive: true });
  return {
    ratio: round(median(joins) / median(copies)),
    goal: copyGoal,
    bytes,
    grains: task.grains.length,
    joinSeconds: joins,
    copySeconds: copies,
  };
}

/** Read, written and flushed; not a clone that shares its blocks with the original. */
async function plainCopy(from: string, to: string): Promise<void> {
  await using target = await open(to, 'w');
  for await (const piece of createReadStream(from, { highWaterMark: 1024 * 1024 }))
    await target.write(piece as Buffer);
  await target.sync();
}

async function timed<T>(run: () => Promise<T>): Promise<{ result: T; seconds: number }> {
  const startedMs = performance.now();
  const result = await run();
  return { result, seconds: round((performance.now() - startedMs) / 1000) };
}
