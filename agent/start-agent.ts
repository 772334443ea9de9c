// Builds one agent out of its rooms and runs it. Everything with a beginning and an end is begun and ended here.

import { MillError } from '#shared/errors.ts';
import { builtInFormats } from '#shared/house-formats.ts';
import { type Lane, protocolVersion } from '#shared/link.ts';
import type { Task, TaskResult } from '#shared/task.ts';
import packageJson from '../package.json' with { type: 'json' };
import type { AgentConfig } from './config.ts';
import { readCalibration } from './lanes/calibration-store.ts';
import { readFfmpegVersion } from './lanes/ffmpeg-version.ts';
import { findLanes } from './lanes/find-lanes.ts';
import { type AttemptTools, createAttempts } from './link/attempts.ts';
import { watchReach } from './link/reach.ts';
import { openSession, type Session } from './link/session.ts';
import { type AgentHome, homeFolder, openHome } from './tools/agent-identity.ts';
import { followSignals } from './tools/follow-signal.ts';
import { type Holding, holdName } from './tools/hold-name.ts';
import { openSource, prepareDestination } from './tools/local-volumes.ts';
import type { AgentLog } from './tools/logger.ts';
import { type MachineFacts, readMachineFacts } from './tools/machine-facts.ts';
import { makeScratch, sweepScratch } from './tools/scratch.ts';
import { setToolsGiveWay } from './tools/tool-priority.ts';

/**
 * Runs an agent until `signal` fires, then takes its leave and cleans up. Rejects with MillError when it can't start
 * (`bad-config`, `missing-tool`) or when the coordinator refuses it (`unauthorised`, `bad-config`).
 */
export async function runAgent(config: AgentConfig, log: AgentLog, signal: AbortSignal): Promise<void> {
  setToolsGiveWay(config.lowPriority);
  const folder = homeFolder(config.state, config.name);
  await using _alone = await holdHome(folder);
  const [home, known] = await Promise.all([openHome(folder), readCalibration(config.calibration)]);
  // An agent that was killed left its scratch; nobody else uses this folder now.
  const swept = await sweepScratch(home.scratchRoot);
  if (swept > 0) log.info({ folders: swept }, 'swept what an earlier run left');
  const ffmpegVersion = await readFfmpegVersion(config.calibration, known, signal);
  const ground = { ffmpegVersion, machine: readMachineFacts() };

  // When the coordinator refuses this agent, the search for lanes ends as well.
  using end = followSignals(signal);
  await using trial = await makeScratch(home.scratchRoot, 'lanes');
  const search = findLanes({
    ground,
    known,
    formats: builtInFormats.filter(({ name }) => config.formats.includes(name)),
    folder: config.calibration,
    scratch: trial.path,
    signal: end.signal,
    log,
  });
  const lanes: LaneList = { known: config.encodePlaces === 0 ? [] : ((await search.next()).value ?? []) };
  const session = openLink(config, { home, ...ground, lanes, log });
  const looking =
    config.encodePlaces === 0 ? null : followLanes(search, { lanes, session, log, signal: end.signal });
  try {
    await session.run(end.signal);
  } finally {
    end.abort();
    await Promise.all([session.close(), looking]);
  }
}

type LaneList = { known: readonly Lane[] };

type LinkParts = {
  readonly home: AgentHome;
  readonly ffmpegVersion: string;
  readonly machine: MachineFacts;
  readonly lanes: LaneList;
  readonly log: AgentLog;
};

function openLink(config: AgentConfig, { home, ffmpegVersion, machine, lanes, log }: LinkParts): Session {
  const { name, encodePlaces, deskPlaces, volumes } = config;
  const { agentId, scratchRoot } = home;
  const coordinator = { baseUrl: new URL(config.coordinator), token: config.token };
  const reach = watchReach(volumes);
  const attempts = createAttempts({
    coordinator,
    encodePlaces,
    deskPlaces,
    scratchRoot,
    log,
    machine: name,
    granaryFolder: () => reach.granaryFolder(),
    execute: (task, tools) => execute(config, task, tools),
  });
  return openSession({
    coordinator,
    agentId,
    attempts,
    reach,
    log,
    concurrency: encodePlaces + deskPlaces,
    registration: () => ({
      protocol: protocolVersion,
      agentId,
      name,
      version: packageJson.version,
      ...machine,
      ffmpeg: ffmpegVersion,
      encodePlaces,
      deskPlaces,
      lanes: [...lanes.known],
    }),
  });
}

async function execute({ volumes }: AgentConfig, task: Task, tools: AttemptTools): Promise<TaskResult> {
  const { runTask } = await import('./tasks/run-task.ts');
  return runTask(task, {
    ...tools,
    volumes: {
      openSource: (volumePath) => openSource(volumes, volumePath),
      destination: (volumePath) => prepareDestination(volumes, volumePath),
    },
  });
}

type Following = {
  readonly lanes: LaneList;
  readonly session: Session;
  readonly log: AgentLog;
  readonly signal: AbortSignal;
};

/** An agent whose search for lanes breaks off is still good for the lanes that it knows, and for other tasks. */
async function followLanes(
  search: AsyncGenerator<readonly Lane[]>,
  { lanes, session, log, signal }: Following,
): Promise<void> {
  try {
    for await (const known of search) {
      lanes.known = known;
      session.announce();
    }
  } catch (error) {
    if (!signal.aborted)
      log.error(
        { reason: error instanceof Error ? error.message : String(error) },
        'the search for lanes broke off',
      );
  }
}

async function holdHome(folder: string): Promise<Holding> {
  const alone = await holdName(folder);
  if (alone) return alone;
  throw new MillError(
    'bad-config',
    `another agent of this name runs from ${folder}; give this one another --name or --state`,
  );
}
