// Runs one benchmark by name. Its last line is the result as JSON; with --json nothing else is on standard output.
//   npm run -s bench -- NAME [--json]
import { mkdtemp, realpath, rm } from 'node:fs/promises';
import os from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import type { Bench } from './bench.ts';
import { join as joinBench } from './join.ts';
import { latency } from './latency.ts';
import { overhead } from './overhead.ts';
import { round } from './parts/figures.ts';

const benches: readonly Bench[] = [overhead, joinBench, latency];
const exitCodes = { done: 0, failed: 1, wrongRequest: 2 } as const;

process.exitCode = await runMain(process.argv.slice(2));

async function runMain(words: readonly string[]): Promise<number> {
  const request = readWords(words);
  if (request === null) return exitCodes.wrongRequest;
  if (request.name === undefined) {
    for (const { name, about, goal, unit } of benches)
      console.log(`${name.padEnd(12)}${about} (goal: at most ${goal} ${unit})`);
    return exitCodes.done;
  }
  const bench = benches.find(({ name }) => name === request.name);
  if (!bench) {
    console.error(
      `there is no benchmark ${request.name}; there are ${benches.map(({ name }) => name).join(', ')}`,
    );
    return exitCodes.wrongRequest;
  }
  return runBench(bench, request.json ? () => {} : (line) => console.log(line));
}

async function runBench(bench: Bench, tell: (line: string) => void): Promise<number> {
  const folder = await mkdtemp(join(await realpath(os.tmpdir()), `nightmill-bench-${bench.name}-`));
  const loadBefore = os.loadavg()[0] ?? 0;
  try {
    const { value, detail } = await bench.run({ folder, tell });
    const { name, unit, goal } = bench;
    const load = { before: round(loadBefore, 2), after: round(os.loadavg()[0] ?? 0, 2) };
    console.log(
      JSON.stringify({
        bench: name,
        value: round(value, 4),
        unit,
        goal,
        machine: describeMachine(),
        detail: { ...detail, load },
      }),
    );
    return exitCodes.done;
  } catch (error) {
    console.error(error);
    return exitCodes.failed;
  } finally {
    await rm(folder, { recursive: true, force: true, maxRetries: 5 });
  }
}

function readWords(words: readonly string[]): { name: string | undefined; json: boolean } | null {
  try {
    const { values, positionals } = parseArgs({
      args: [...words],
      options: { json: { type: 'boolean', default: false } },
      allowPositionals: true,
    });
    if (positionals.length <= 1) return { name: positionals[0], json: values.json };
    console.error('one benchmark at a time: two would measure each other');
  } catch (error) {
    console.error(error instanceof Error ? error.message : String(error));
  }
  return null;
}

function describeMachine(): string {
  const cpus = os.cpus();
  return `${os.availableParallelism()} × ${cpus[0]?.model ?? 'unknown processor'}, ${Math.round(os.totalmem() / 2 ** 30)} GiB, ${os.type()} ${os.arch()}, Node ${process.versions.node}`;
}
