// A whole farm for a test: a coordinator and agents as processes of their own, in a folder of their own, with two volumes.
// Small grains, so that short sources have many seams; what was measured of this machine is kept between runs.
import { mkdir, mkdtemp, realpath, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { builtInFormats } from '#shared/house-formats.ts';
import { type JobDetail, restingStates } from '#shared/job.ts';
import { type Changes, followChanges } from './changes.ts';
import { createFarmClient, type FarmClient } from './client.ts';
import { findLeftovers } from './leftovers.ts';
import { descendantsOf, listProcesses } from './processes.ts';
import { lastWords, type Program, startProgram } from './program.ts';
import { placeSource } from './volumes.ts';

export type FarmOptions = {
  /** Names of the agents; each has one place for an encoder. */
  readonly agents: readonly string[];
  /** House formats whose lanes have to be proven before the farm counts as ready. */
  readonly formats: readonly string[];
  /** More volumes than `rushes` and `share`: name → folder. */
  readonly volumes?: Readonly<Record<string, string>>;
  /** Another place for the coordinator's data than a folder of the farm's own. */
  readonly dataFolder?: string;
  /** The studio's own house formats. */
  readonly formatsFolder?: string;
  /** Variables for the agents, such as another PATH. */
  readonly environment?: Readonly<Record<string, string>>;
  /** Another folder for what is measured than the one that all test farms share. */
  readonly calibration?: string;
};

const programs = {
  coordinator: fileURLToPath(new URL('../../../coordinator/main.ts', import.meta.url)),
  agent: fileURLToPath(new URL('../../../agent/main.ts', import.meta.url)),
};

/** Shared by all test farms of this machine; a first run proves and measures, the next ones read it. */
export const sharedCalibration = join(tmpdir(), 'nightmill-test-calibration');
/** Short, so that a killed agent is soon missed; long enough for a busy machine. */
const silence = { heartbeatSeconds: 0.5, lostAfterSeconds: 6 };
const readyLimitMs = 180_000;
const jobLimitMs = 240_000;
const endLimitMs = 20_000;
const shownLines = 25;

export class Farm implements AsyncDisposable {
  readonly folder: string;
  readonly rushes: string;
  readonly share: string;
  readonly dataFolder: string;
  readonly #options: FarmOptions;
  readonly #agents = new Map<string, Program>();
  /** Names on the share that a test put there itself. */
  readonly #foreign = new Set<string>();
  #coordinator: Program | null = null;
  #url = '';
  #client: FarmClient | null = null;
  #changes: Changes | null = null;

  private constructor(folder: string, options: FarmOptions) {
    this.folder = folder;
    this.rushes = join(folder, 'rushes');
    this.share = join(folder, 'share');
    this.dataFolder = options.dataFolder ?? join(folder, 'data');
    this.#options = options;
  }

  /** Resolves when the coordinator answers and every agent has its lanes. */
  static async start(options: FarmOptions): Promise<Farm> {
    const folder = await mkdtemp(join(await realpath(tmpdir()), 'nightmill-farm-'));
    const farm = new Farm(folder, options);
    await Promise.all(
      [farm.rushes, farm.share, farm.dataFolder].map((path) => mkdir(path, { recursive: true })),
    );
    try {
      await farm.startCoordinator();
      await Promise.all(options.agents.map((name) => farm.startAgent(name)));
      await farm.#untilLanesAreProven();
      return farm;
    } catch (error) {
      await farm.stop({ failed: true }).catch(() => {});
      throw error;
    }
  }

  get client(): FarmClient {
    if (this.#client === null) throw new Error('the farm is not running');
    return this.#client;
  }

  get changes(): Changes {
    if (this.#changes === null) throw new Error('the farm is not running');
    return this.#changes;
  }

  /** The first time it takes any free port, later the same one. */
  async startCoordinator(): Promise<void> {
    const { port } = this.#url === '' ? { port: 0 } : new URL(this.#url);
    const file = join(this.folder, 'coordinator.json');
    const settings = {
      listen: { host: '127.0.0.1', port: Number(port) },
      dataFolder: this.dataFolder,
      formatsFolder: this.#options.formatsFolder ?? null,
      volumes: this.#volumes(),
      agents: silence,
      plan: { grainSeconds: 1 },
      logFormat: 'json',
    };
    await writeFile(file, JSON.stringify(settings, null, 2));
    const program = await startProgram({
      name: 'coordinator',
      words: [programs.coordinator, '--config', file],
      // For its helper, which would starve beside agents that don't give way.
      environment: { NIGHTMILL_LOW_PRIORITY: 'false' },
      logFile: this.#logOf('coordinator'),
    });
    this.#coordinator = program;
    this.#url = await readyUrl(program);
    this.#client ??= createFarmClient(this.#url);
    this.#changes ??= followChanges(this.#url);
  }

  async startAgent(name: string): Promise<void> {
    const { formats, calibration = sharedCalibration, environment = {} } = this.#options;
    const words = [
      programs.agent,
      `--coordinator=${this.#url}`,
      `--name=${name}`,
      `--state=${join(this.folder, 'agents')}`,
      `--calibration=${calibration}`,
      `--formats=${formats.join(',')}`,
      '--log-format=json',
      // A busy machine would let encoders that give way wait beyond every deadline.
      '--low-priority=false',
      ...Object.entries(this.#volumes()).map(([volume, path]) => `--volume=${volume}=${path}`),
    ];
    this.#agents.set(name, await startProgram({ name, words, environment, logFile: this.#logOf(name) }));
  }

  /** Resolves with how the agent ended. */
  killAgent(name: string, signal: NodeJS.Signals): Promise<string> {
    return endProgram(this.#agents.get(name), signal);
  }

  killCoordinator(signal: NodeJS.Signals): Promise<string> {
    return endProgram(this.#coordinator, signal);
  }

  /** Puts a file on the volume of the sources; answers its volume path. */
  async addSource(file: string, name: string): Promise<string> {
    await placeSource(file, this.rushes, name);
    return `rushes:${name}`;
  }

  /** Puts a file on the share that is none of the farm's; it may be there at the end. */
  async putOnShare(name: string, text: string): Promise<string> {
    this.#foreign.add(name);
    const path = join(this.share, name);
    await writeFile(path, text);
    return path;
  }

  /** Resolves with the job when it rests: delivered, held, failed or cancelled. */
  waitFor(jobId: string, deadlineMs = jobLimitMs): Promise<JobDetail> {
    let told = -1;
    const look = async () => {
      // Asked for only when something has happened to it: many may wait at once.
      const happened = this.changes.of(jobId).length;
      if (happened === told) return null;
      const job = await this.client.job(jobId).catch(() => null);
      if (job !== null) told = happened;
      return job !== null && restingStates.includes(job.state) ? job : null;
    };
    return this.changes.until(`${jobId} rests`, look, deadlineMs);
  }

  /** Absolute path of a deliverable on the share. */
  deliverablePath(job: Pick<JobDetail, 'deliverable'>): string {
    return join(this.share, job.deliverable.slice('share:'.length));
  }

  /** Ends everything in order. Throws when something is left that should not be. The folder is kept after a failure. */
  async stop({ failed }: { failed: boolean }): Promise<void> {
    const faults = await this.#end();
    if (failed || faults.length > 0) await this.#explain();
    else await rm(this.folder, { recursive: true, force: true, maxRetries: 5 });
    if (faults.length > 0) throw new Error(`the farm did not end as it should: ${faults.join('; ')}`);
  }

  async [Symbol.asyncDispose](): Promise<void> {
    await this.stop({ failed: false });
  }

  async #end(): Promise<string[]> {
    const running = [...this.#agents.values(), this.#coordinator].filter((program) => program?.isRunning());
    const programsRunning = running.filter((program) => program !== null);
    const leftovers = this.#coordinator?.isRunning()
      ? await findLeftovers(this, [...this.#foreign]).catch((error: unknown) => [String(error)])
      : [];
    await this.#changes?.stop();
    const ours = descendantsOf([process.pid], await listProcesses()).filter(
      ({ pid, parent, words }) =>
        programsRunning.some((program) => program.pid === pid || program.pid === parent) ||
        words.includes(this.folder),
    );
    const ends: string[] = [];
    // Agents first, so that they can take their leave.
    for (const program of programsRunning) {
      const end = await endProgram(program, 'SIGTERM');
      if (end !== 'code 0') ends.push(`${program.name} ended with ${end}`);
    }
    const still = (await listProcesses()).filter(
      ({ pid, words }) => words.includes(this.folder) || ours.some((process) => process.pid === pid),
    );
    return [...leftovers, ...ends, ...still.map(({ pid, words }) => `process ${pid} still runs: ${words}`)];
  }

  async #explain(): Promise<void> {
    console.error(`kept for looking at: ${this.folder}`);
    for (const name of ['coordinator', ...this.#agents.keys()]) {
      console.error(`--- last words of ${name}\n${await lastWords(this.#logOf(name), shownLines)}`);
    }
  }

  #volumes(): Readonly<Record<string, string>> {
    return { rushes: this.rushes, share: this.share, ...this.#options.volumes };
  }

  #logOf(name: string): string {
    return join(this.folder, `${name}.log`);
  }

  async #untilLanesAreProven(): Promise<void> {
    const wanted = builtInFormats.filter((format) => this.#options.formats.includes(format.name));
    const look = async () => {
      const machines = await this.client.machines();
      return this.#options.agents.every((name) => {
        const machine = machines.find((one) => one.name === name);
        return wanted.every(({ name: format, version }) =>
          machine?.lanes.some((lane) => lane.proven && lane.rates[`${format}@${version}`] !== undefined),
        );
      });
    };
    await this.changes.until('every agent has its lanes', look, readyLimitMs);
  }
}

async function readyUrl(program: Program): Promise<string> {
  for await (const line of program.lines) {
    const url: unknown = (JSON.parse(line) as { ready?: unknown }).ready;
    if (typeof url === 'string') return url;
  }
  throw new Error(`${program.name} ended with ${await program.ended} before it was ready`);
}

async function endProgram(program: Program | null | undefined, signal: NodeJS.Signals): Promise<string> {
  if (program == null) throw new Error('there is no such program in this farm');
  program.kill(signal);
  const insist = setTimeout(() => program.kill('SIGKILL'), endLimitMs);
  const end = await program.ended;
  clearTimeout(insist);
  return end;
}
