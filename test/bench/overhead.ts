// What splitting, joining, checking and the farm around it cost: `nightmill once` with two agents against one plain
// ffmpeg process on the same cores, in turns within one run.
import { stat } from 'node:fs/promises';
import { availableParallelism } from 'node:os';
import { join } from 'node:path';
import type { HouseFormat } from '#shared/house-format.ts';
import { builtInFormats } from '#shared/house-formats.ts';
import type { Bench, BenchGround, BenchOutcome } from './bench.ts';
import { filmRate, makeBenchFilm } from './parts/bench-film.ts';
import { median, round } from './parts/figures.ts';
import { runPlainPass } from './parts/plain-pass.ts';
import { childrenSeconds } from './parts/processor-time.ts';
import { type OnceRun, runOnce } from './parts/run-once.ts';

export const overhead: Bench = {
  name: 'overhead',
  about: 'once with two agents against one plain ffmpeg process, a review copy of about a minute of encoding',
  unit: '× the time of plain ffmpeg',
  goal: 1.1,
  run: runOverhead,
};

const agents = 2;
const pairs = 3;
const wantedEncodeSeconds = 60;
const trialSeconds = 15;

type Timed = { readonly seconds: number; readonly processorSeconds: number | null };

async function runOverhead({ folder, tell }: BenchGround): Promise<BenchOutcome> {
  const format = builtInFormats.find(({ name }) => name === 'review-copy');
  if (!format) throw new Error('there is no review-copy');
  const film = await chooseFilm(format, { folder, tell });
  // The first run of all proves and measures the encoders; later ones read what it found.
  await runOnce({
    film: await makeBenchFilm(trialSeconds),
    format: format.name,
    to: join(folder, 'warm'),
    agents,
  });
  const [plain, whole]: [Timed[], (Timed & OnceRun)[]] = [[], []];
  for (let pair = 0; pair < pairs; pair += 1) {
    const output = join(folder, `plain-${pair}.mp4`);
    plain.push(await timed(async () => ({ seconds: await runPlainPass(film, format, output) })));
    whole.push(
      await timed(() => runOnce({ film, format: format.name, to: join(folder, `once-${pair}`), agents })),
    );
    tell(
      `pair ${pair + 1}: plain ${round(plain.at(-1)?.seconds ?? 0, 1)} s, once ${round(whole.at(-1)?.seconds ?? 0, 1)} s`,
    );
  }
  const seconds = (runs: readonly Timed[]) => runs.map((run) => round(run.seconds));
  return {
    value: median(seconds(whole)) / median(seconds(plain)),
    detail: {
      filmBytes: (await stat(film)).size,
      frames: whole[0]?.report.frames,
      grains: whole[0]?.report.grains,
      agents,
      plainSeconds: seconds(plain),
      onceSeconds: seconds(whole),
      processorTime: processorTime(plain, whole),
      memory: memoryOf(whole),
    },
  };
}

/** As long as a plain pass takes about a minute here when nobody else works. */
async function chooseFilm(format: HouseFormat, { folder, tell }: BenchGround): Promise<string> {
  const trial = await makeBenchFilm(trialSeconds);
  const output = join(folder, 'trial.mp4');
  const took = await timed(async () => ({ seconds: await runPlainPass(trial, format, output) }));
  // Others make the wall clock tell too much; an encoder alone keeps three quarters of the cores busy or fewer of many.
  const shared =
    took.processorSeconds === null ? took.seconds : took.processorSeconds / availableParallelism() / 0.75;
  const alone = Math.min(took.seconds, shared);
  // Whole turns of its three scenes.
  const seconds = Math.max(1, Math.round((wantedEncodeSeconds * trialSeconds) / alone / 15)) * 15;
  tell(
    `a plain pass makes about ${round((trialSeconds * filmRate) / alone, 1)} frames/s here; the film has ${seconds} s`,
  );
  return makeBenchFilm(seconds);
}

async function timed<T extends { seconds: number }>(run: () => Promise<T>): Promise<T & Timed> {
  const before = await childrenSeconds();
  const result = await run();
  const after = await childrenSeconds();
  return { ...result, processorSeconds: before === null || after === null ? null : round(after - before, 2) };
}

function processorTime(plain: readonly Timed[], whole: readonly Timed[]): object | null {
  const of = (runs: readonly Timed[]) => runs.flatMap(({ processorSeconds }) => processorSeconds ?? []);
  if (of(plain).length === 0) return null;
  return {
    plainSeconds: of(plain),
    onceSeconds: of(whole),
    ratio: round(median(of(whole)) / median(of(plain))),
  };
}

/** MiB, the largest of all runs; the goal is 200 for each process. */
function memoryOf(runs: readonly OnceRun[]): object {
  return {
    goalMebibytes: 200,
    coordinatorMebibytes: Math.max(...runs.map(({ memory }) => memory.coordinator ?? 0)),
    agentMebibytes: Math.max(...runs.flatMap(({ memory }) => memory.agents)),
  };
}
