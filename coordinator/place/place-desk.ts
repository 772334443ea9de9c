// Which machine does the tasks beside encoding: one that reaches the storage, with a free desk place, the least busy.
import type { Reach } from '#shared/link.ts';
import type { TaskKind } from '#shared/task.ts';

export type DeskMachine = {
  readonly agentId: string;
  readonly freeDeskPlaces: number;
  readonly reach: Reach;
};

export type DeskNeed = {
  readonly kind: Exclude<TaskKind, 'encode'>;
  /** Volume of the source. */
  readonly source: string;
  /** Volume of the deliverable. */
  readonly destination: string;
  /** Machines where this step failed: taken only when no other is left. */
  readonly avoid: ReadonlySet<string>;
};

/** The machine for the task, or null when none that could is free. Deterministic (N10). */
export function placeDesk(machines: readonly DeskMachine[], need: DeskNeed): string | null {
  const able = machines.filter((machine) => reaches(machine.reach, need) && machine.freeDeskPlaces > 0);
  const willing = able.filter((machine) => !need.avoid.has(machine.agentId));
  const ranked = (willing.length > 0 ? willing : able).toSorted(
    (a, b) => preference(b) - preference(a) || (a.agentId < b.agentId ? -1 : 1),
  );
  return ranked[0]?.agentId ?? null;
}

/** Could this machine ever do the task, busy or not? */
function reaches(reach: Reach, need: Pick<DeskNeed, 'kind' | 'source' | 'destination'>): boolean {
  const readable = reach.volumes[need.source]?.readable ?? false;
  return need.kind === 'deliver' ? (reach.volumes[need.destination]?.writable ?? false) : readable;
}

/** A machine that sees the granary as a folder moves pieces instead of sending them. */
function preference(machine: DeskMachine): number {
  return (machine.reach.granary ? 1000 : 0) + machine.freeDeskPlaces;
}
