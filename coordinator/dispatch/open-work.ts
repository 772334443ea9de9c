// The live view that placing needs: which places are free, which grains wait, who reaches what. Reads records and
// machines, changes nothing.
import type { TaskKind } from '#shared/task.ts';
import { parseVolumePath } from '#shared/volume-path.ts';
import type { DeskMachine, DeskNeed } from '../place/place-desk.ts';
import type { EncodePlace, EncodeWork } from '../place/place-types.ts';
import { dueWork } from '../state/due-work.ts';
import { type Attempt, type JobRecord, openAttempts } from '../state/job-record.ts';
import type { KnownMachine } from './machines.ts';

export type Load = {
  readonly encode: ReadonlyMap<string, number>;
  readonly desk: ReadonlyMap<string, number>;
};

/** Open attempts by machine. */
export function loadOf(records: readonly JobRecord[]): Load {
  const encode = new Map<string, number>();
  const desk = new Map<string, number>();
  for (const attempt of records.flatMap(openAttempts)) {
    const counts = attempt.kind === 'encode' ? encode : desk;
    counts.set(attempt.agentId, (counts.get(attempt.agentId) ?? 0) + 1);
  }
  return { encode, desk };
}

export function encodePlaces(machines: readonly KnownMachine[], load: Load): EncodePlace[] {
  return machines.flatMap(({ registration }) => {
    const lanes = registration.lanes
      .filter((lane) => lane.proven)
      .map((lane) => ({
        laneId: lane.id,
        codec: lane.codec,
        stitchClass: lane.stitchClass,
        megapixelsPerSecond: Object.fromEntries(
          Object.entries(lane.rates).map(([format, rate]) => [format, rate.megapixelsPerSecond]),
        ),
      }));
    const busy = load.encode.get(registration.agentId) ?? 0;
    return Array.from({ length: registration.encodePlaces }, (_, place) => ({
      agentId: registration.agentId,
      free: place >= busy,
      lanes,
    }));
  });
}

export function encodeWork(records: readonly JobRecord[], machines: readonly KnownMachine[]): EncodeWork[] {
  return records.flatMap((record) => {
    const { runs } = dueWork(record);
    if (record.plan === null || runs.length === 0) return [];
    const source = parseVolumePath(record.submission.source).volume;
    return {
      jobId: record.id,
      priority: record.submission.priority,
      receivedMs: record.receivedMs,
      codec: record.format.picture.codec,
      formatKey: `${record.format.name}@${record.format.version}`,
      pixels: record.plan.picture.width * record.plan.picture.height,
      runs,
      grainFrames: record.plan.grainFrames,
      stitchClass: record.stitchClass,
      whole: record.plan.wholeBecause !== null,
      reachableBy: machinesReading(machines, source),
      avoid: machinesFailed(record, 'encode'),
    };
  });
}

export function deskMachines(machines: readonly KnownMachine[], load: Load): DeskMachine[] {
  return machines.flatMap(({ registration, heartbeat }) =>
    heartbeat === null
      ? []
      : {
          agentId: registration.agentId,
          freeDeskPlaces: registration.deskPlaces - (load.desk.get(registration.agentId) ?? 0),
          reach: heartbeat.reach,
        },
  );
}

export function deskNeed(record: JobRecord, kind: DeskNeed['kind']): DeskNeed {
  return {
    kind,
    source: parseVolumePath(record.submission.source).volume,
    destination: parseVolumePath(record.deliverable).volume,
    avoid: machinesFailed(record, kind),
  };
}

function machinesReading(machines: readonly KnownMachine[], volume: string): Set<string> {
  const reading = machines.filter((machine) => machine.heartbeat?.reach.volumes[volume]?.readable === true);
  return new Set(reading.map((machine) => machine.registration.agentId));
}

function machinesFailed(record: JobRecord, kind: TaskKind): Set<string> {
  const failed = (attempt: Attempt) =>
    attempt.kind === kind && attempt.state === 'failed' && !attempt.forgiven;
  return new Set(record.attempts.filter(failed).map((attempt) => attempt.agentId));
}
