// The farm of the demo: a coordinator with a data folder, and an agent for each machine, all real processes.
import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type Program, startProgram } from './program.ts';
import { type DemoMachine, machines, wishes } from './scenario.ts';

export type Folders = {
  /** Holds the film; kept from run to run, and only read. */
  readonly rushes: string;
  /** What was measured on this machine stays true from run to run. */
  readonly calibration: string;
  /** Of this run; removed when it ends well. */
  readonly work: string;
  /** Of this run; kept. */
  readonly delivery: string;
};

export type Farm = {
  readonly url: string;
  /** Rejects when a part of the farm ends before it is stopped. */
  readonly broken: Promise<never>;
  /** Agents first, so that they can take their leave. `told` as for a program. */
  stop(told: boolean): Promise<void>;
};

const coordinatorScript = fileURLToPath(new URL('../../coordinator/main.ts', import.meta.url));
const agentScript = fileURLToPath(new URL('../../agent/main.ts', import.meta.url));

export async function startFarm(folders: Folders): Promise<Farm> {
  await Promise.all([folders.work, folders.delivery].map((folder) => mkdir(folder, { recursive: true })));
  const coordinator = await startCoordinator(folders);
  const agents: Program[] = [];
  const stop = async (told: boolean) => {
    await Promise.all(agents.map((agent) => agent.stop(told)));
    await coordinator.stop(told);
  };
  try {
    const ready = await Promise.race([coordinator.firstLine, coordinator.broken]);
    const { ready: url } = JSON.parse(ready) as { ready: string };
    for (const machine of machines) agents.push(await startAgent(machine, url, folders));
    return { url, broken: Promise.race([coordinator, ...agents].map(({ broken }) => broken)), stop };
  } catch (error) {
    await stop(false);
    throw error;
  }
}

async function startCoordinator({ work, rushes, delivery }: Folders): Promise<Program> {
  const file = await writeConfig(work, 'coordinator', {
    // Any free port, for this machine only.
    listen: { host: '127.0.0.1', port: 0 },
    dataFolder: join(work, 'data'),
    volumes: { rushes, delivery },
    // The three machines do all the work.
    helperAgent: false,
  });
  return startProgram({
    name: 'coordinator',
    command: [coordinatorScript, '--config', file, '--end-with-parent'],
    logFile: join(work, 'coordinator.log'),
    niceness: 0,
  });
}

async function startAgent(machine: DemoMachine, url: string, folders: Folders): Promise<Program> {
  const { work, calibration, rushes, delivery } = folders;
  const file = await writeConfig(work, machine.name, {
    coordinator: url,
    name: machine.name,
    volumes: { rushes, delivery },
    ...machine.config,
    state: join(work, 'agents'),
    calibration,
    formats: wishes.map(({ format }) => format),
    // They would all give way alike; here they give way to each other, by their niceness.
    lowPriority: false,
  });
  return startProgram({
    name: machine.name,
    command: [agentScript, '--config', file, '--end-with-parent'],
    logFile: join(work, `${machine.name}.log`),
    niceness: machine.niceness,
  });
}

async function writeConfig(folder: string, name: string, config: object): Promise<string> {
  const file = join(folder, `${name}.json`);
  await writeFile(file, `${JSON.stringify(config, null, 2)}\n`);
  return file;
}
