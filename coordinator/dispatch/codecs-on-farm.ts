// What the machines that are there can encode, or may turn out to.
import { type Lane, proofToCome } from '#shared/link.ts';
import type { JobEvent } from '../state/job-events.ts';
import type { KnownMachine } from './machines.ts';

/** Null while no machine that lends encoders has told of its lanes: then nothing can be said. */
export function codecsOnFarm(ready: readonly KnownMachine[]): ReadonlySet<string> | null {
  const lanes = lentLanes(ready);
  return lanes.length === 0
    ? null
    : new Set(lanes.filter(({ lane }) => mayEncode(lane)).map(({ lane }) => lane.codec));
}

/** The event that holds a job of this codec because every machine's lane for it failed, or null. */
export function laneProblem(codec: string, ready: readonly KnownMachine[]): JobEvent | null {
  if (codecsOnFarm(ready)?.has(codec) !== false) return null;
  const told = lentLanes(ready).filter(({ lane }) => lane.codec === codec);
  const reasons = told.map(
    ({ machine, lane }) => `${machine}: ${lane.encoder}: ${lane.reason ?? 'not proven'}`,
  );
  const why = reasons.length === 0 ? 'none of them knows an encoder for it' : reasons.join('; ');
  return {
    type: 'held',
    reason: {
      code: 'no-lane',
      message: `no machine that is there can encode ${codec} (${why}); start one that can, then retry`,
      stage: 'place',
      details: {},
    },
  };
}

function lentLanes(ready: readonly KnownMachine[]): { machine: string; lane: Lane }[] {
  const lending = ready.filter(({ registration }) => registration.encodePlaces > 0);
  return lending.flatMap(({ registration }) =>
    registration.lanes.map((lane) => ({ machine: registration.name, lane })),
  );
}

function mayEncode(lane: Lane): boolean {
  return lane.proven || lane.reason === proofToCome;
}
