// Wires the coordinator's rooms to each other over opened resources. Nothing here decides anything.
import { randomBytes } from 'node:crypto';
import type { Logger } from 'pino';
import type { RegistrationReply } from '#shared/link.ts';
import { parseVolumePath } from '#shared/volume-path.ts';
import type { ApiPorts } from './api/api-ports.ts';
import { reportBeside } from './api/views/report-view.ts';
import type { Config } from './config.ts';
import { createAgentLink } from './dispatch/agent-link.ts';
import { codecsOnFarm } from './dispatch/codecs-on-farm.ts';
import { Dispatcher } from './dispatch/dispatcher.ts';
import type { Granary } from './dispatch/granary.ts';
import { createLiveProgress, type LiveProgress } from './dispatch/live-progress.ts';
import { createMachines, type Machines, toMachine } from './dispatch/machines.ts';
import { loadOf } from './dispatch/open-work.ts';
import type { Queues } from './dispatch/queues.ts';
import { type Readiness, watchReadiness } from './dispatch/readiness.ts';
import type { RedisServer } from './dispatch/redis-server.ts';
import { promisedBytes, spaceProblem } from './dispatch/space.ts';
import { sweepRestingJobs } from './dispatch/sweep.ts';
import { createControl } from './intake/control.ts';
import { createIntake } from './intake/submit.ts';
import { freeBytes } from './intake/volume-files.ts';
import type { JobBook } from './ledger/job-book.ts';

export type Opened = {
  readonly book: JobBook;
  readonly granary: Granary;
  readonly redis: Pick<RedisServer, 'url' | 'urlFor'>;
  readonly queues: Queues;
  readonly clock: () => number;
  readonly reportFault: (error: unknown, where?: string) => void;
};

export type Wiring = {
  readonly config: Config;
  readonly log: Logger;
  readonly version: string;
  readonly opened: Opened;
  readonly queuePrefix: string;
};

export type Rooms = {
  readonly machines: Machines;
  readonly dispatcher: Dispatcher;
  readonly readiness: Readiness;
  readonly ports: ApiPorts;
};

export function wireRooms(wiring: Wiring): Rooms {
  const { book, granary, reportFault } = wiring.opened;
  const machines = createMachines(wiring.config.agents.lostAfterSeconds * 1000);
  const live = createLiveProgress();
  const dispatcher = wireDispatcher(wiring, machines, live);
  const readiness = watchReadiness(wiring.opened.queues);
  book.onEvent((_, record) => {
    if (sweepRestingJobs(record, granary, reportFault)) live.forget(record.id);
  });
  const ports = wirePorts(wiring, { machines, live, dispatcher, readiness });
  return { machines, dispatcher, readiness, ports };
}

function wireDispatcher({ config, log, version, opened }: Wiring, machines: Machines, live: LiveProgress) {
  const { book, granary, queues, clock } = opened;
  return new Dispatcher({
    ...{ book, machines, queues, clock, log },
    options: config.plan,
    spaceProblem: (record) =>
      spaceProblem(record, {
        granaryFree: () => granary.freeBytes(),
        destinationFree: (deliverable) => freeBytes(config.volumes, parseVolumePath(deliverable)),
        promised: () => promisedBytes(book.working()),
      }),
    reportText: (record) =>
      reportBeside(record, {
        progress: live.of(record.id),
        versions: versionsOf(version, machines),
        machines: [],
      }),
  });
}

type Live = { machines: Machines; live: LiveProgress; dispatcher: Dispatcher; readiness: Readiness };

function wirePorts(wiring: Wiring, { machines, live, dispatcher, readiness }: Live): ApiPorts {
  const { config, version, opened } = wiring;
  const { book, granary, clock, reportFault } = opened;
  const { volumes, formats, token } = config;
  const wake = () => dispatcher.wake();
  return {
    ...{ book, volumes, formats, token, clock, version, reportFault },
    intake: createIntake({
      ...{ book, formats, volumes, newJobId, wake },
      codecsOnFarm: () => codecsOnFarm(machines.ready()),
    }),
    control: createControl(book, wake),
    farm: {
      machines: () => {
        const { encode } = loadOf(book.working());
        return machines
          .all()
          .map((machine) => toMachine(machine, encode.get(machine.registration.agentId) ?? 0));
      },
      progressOf: (jobId) => live.of(jobId),
      onProgress: (listener) => live.onProgress(listener),
      notReady: () => readiness.notReady(),
    },
    link: createAgentLink({
      ...{ book, machines, granary, wake, clock },
      noteProgress: (ref, progress) => live.note(ref, progress),
      replyFor: (agentId, host) => replyFor(wiring, agentId, host),
    }),
  };
}

function replyFor({ config, opened, queuePrefix }: Wiring, agentId: string, host: string): RegistrationReply {
  const { redis, queues, granary } = opened;
  return {
    redisUrl: redis.urlFor(host),
    queuePrefix,
    queueName: queues.queueName(agentId),
    heartbeatSeconds: config.agents.heartbeatSeconds,
    granary: { path: granary.path, markFile: granary.markFile, markText: granary.markText },
  };
}

function newJobId(): string {
  // Time first, so that ids sort by age; random bits after it, so that no two are equal.
  return `j${Date.now().toString(36)}${randomBytes(5).readUIntBE(0, 5).toString(36).padStart(8, '0')}`;
}

function versionsOf(version: string, machines: Machines): Record<string, string> {
  const ffmpeg = machines
    .all()
    .map(({ registration }) => [`ffmpeg on ${registration.name}`, registration.ffmpeg]);
  return { nightmill: version, ...Object.fromEntries(ffmpeg) };
}
