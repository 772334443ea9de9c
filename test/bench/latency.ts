// How soon an idle farm works: from sending the submission to the start of the first encoder process, seen among the
// agent's children. Once for a source that was inspected before, once for one that nobody has looked at.
import { copyFile, utimes } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Bench, BenchGround, BenchOutcome } from './bench.ts';
import { type BenchFarm, startBenchFarm } from './parts/bench-farm.ts';
import { makeBenchFilm } from './parts/bench-film.ts';
import { childrenOf } from './parts/child-processes.ts';
import { median, round } from './parts/figures.ts';

export const latency: Bench = {
  name: 'latency',
  about:
    'from submission to the first encoder process on an idle farm, medians over their limits of 1 s (source known) and 2 s',
  unit: 'of the allowed time, the worse of the two',
  goal: 1,
  run: runLatency,
};

const rounds = 7;
const filmSeconds = 3;
const limitSeconds = { known: 1, unknown: 2 } as const;
const lookEveryMs = 2;

type Seconds = Record<keyof typeof limitSeconds, number[]>;
const patienceMs = 60_000;

async function runLatency({ folder, tell }: BenchGround): Promise<BenchOutcome> {
  const film = await makeBenchFilm(filmSeconds);
  await using farm = await startBenchFarm({ folder, agents: 1, format: 'review-copy' });
  const [first, seconds]: [Seconds, Seconds] = [
    { known: [], unknown: [] },
    { known: [], unknown: [] },
  ];
  for (let turn = 0; turn <= rounds; turn += 1) {
    const name = `film-${turn}.mp4`;
    await copyFile(film, join(farm.rushes, name));
    // Another time of change each: nothing can be known of it from its name or its size.
    await utimes(join(farm.rushes, name), turn, 1e9 + turn);
    const unknown = await measure(farm, { source: `rushes:${name}`, to: `share:first-${turn}` });
    const known = await measure(farm, { source: `rushes:${name}`, to: `share:second-${turn}` });
    // The first turn loads what later ones find loaded; a farm that has been up for a while is what is asked about.
    const list = turn === 0 ? first : seconds;
    list.unknown.push(round(unknown));
    list.known.push(round(known));
    tell(`turn ${turn}: unknown source ${round(unknown)} s, known source ${round(known)} s`);
  }
  const told = { known: summary(seconds, 'known'), unknown: summary(seconds, 'unknown') };
  const share = (kind: keyof Seconds) => told[kind].median / limitSeconds[kind];
  return {
    value: Math.max(share('known'), share('unknown')),
    detail: { ...told, firstTurnNotCounted: first },
  };
}

function summary(seconds: Seconds, kind: keyof Seconds) {
  const own = seconds[kind];
  return { limitSeconds: limitSeconds[kind], median: median(own), worst: Math.max(...own), seconds: own };
}

/** Seconds; waits for the delivery before it answers, so that the farm is idle again. */
async function measure(farm: BenchFarm, job: { source: string; to: string }): Promise<number> {
  const startedMs = performance.now();
  const submitted = farm.submit(job);
  const encoderMs = await firstEncoder(farm, startedMs + patienceMs);
  await farm.changesOf(await submitted);
  return (encoderMs - startedMs) / 1000;
}

/** When a process that writes grains was first seen. */
async function firstEncoder({ agentPids }: BenchFarm, untilMs: number): Promise<number> {
  while (performance.now() < untilMs) {
    const children = await Promise.all(agentPids.map(childrenOf));
    // Before it is ffmpeg it is the program that starts it, with the same words behind its own.
    const encoder = children
      .flat()
      .find(({ words }) => words[0]?.endsWith('ffmpeg') && words.includes('-segment_list'));
    if (encoder) return performance.now();
    await sleep(lookEveryMs);
  }
  throw new Error(`no encoder process was seen for ${patienceMs / 1000} s`);
}
