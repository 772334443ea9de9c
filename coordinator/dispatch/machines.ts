// The machines that lend their encoders: who is there, what they reach, when they were last heard. In memory only: a
// restarted coordinator is told again, since every agent registers anew when it isn't known.
import { MillError } from '#shared/errors.ts';
import type { Machine } from '#shared/job.ts';
import type { AttemptRef, Heartbeat, Registration } from '#shared/link.ts';

export type KnownMachine = {
  readonly registration: Registration;
  readonly heartbeat: Heartbeat | null;
  readonly lastHeardMs: number;
  readonly alive: boolean;
};

export type Machines = {
  register(registration: Registration, nowMs: number): void;
  /** Throws MillError `not-found` for a machine that has to register first. */
  heartbeat(agentId: string, heartbeat: Heartbeat, nowMs: number): void;
  leave(agentId: string): void;
  /** Marks machines that were silent for too long; answers those that became so just now. */
  markSilent(nowMs: number): readonly string[];
  /** Machines that are there and have told what they reach, in order of id. */
  ready(): readonly KnownMachine[];
  get(agentId: string): KnownMachine | undefined;
  all(): readonly KnownMachine[];
};

export function createMachines(lostAfterMs: number): Machines {
  const known = new Map<string, KnownMachine>();
  return {
    register(registration, nowMs) {
      const before = known.get(registration.agentId);
      known.set(registration.agentId, {
        registration,
        heartbeat: before?.heartbeat ?? null,
        lastHeardMs: nowMs,
        alive: true,
      });
    },
    heartbeat(agentId, heartbeat, nowMs) {
      const machine = known.get(agentId);
      if (machine === undefined)
        throw new MillError('not-found', `machine ${agentId} is not registered; register again`);
      known.set(agentId, { ...machine, heartbeat, lastHeardMs: nowMs, alive: true });
    },
    leave(agentId) {
      const machine = known.get(agentId);
      if (machine) known.set(agentId, { ...machine, heartbeat: null, alive: false });
    },
    markSilent(nowMs) {
      const silent = [...known.values()].filter(
        (machine) => machine.alive && nowMs - machine.lastHeardMs > lostAfterMs,
      );
      for (const machine of silent) known.set(machine.registration.agentId, { ...machine, alive: false });
      return silent.map((machine) => machine.registration.agentId);
    },
    ready: () =>
      [...known.values()]
        .filter((machine) => machine.alive && machine.heartbeat !== null)
        .toSorted((a, b) => (a.registration.agentId < b.registration.agentId ? -1 : 1)),
    get: (agentId) => known.get(agentId),
    all: () => [...known.values()],
  };
}

export function isRunning(machine: KnownMachine, ref: AttemptRef): boolean {
  return machine.heartbeat?.running.some((r) => r.jobId === ref.jobId && r.attempt === ref.attempt) ?? false;
}

export function toMachine(known: KnownMachine, busyPlaces: number): Machine {
  const { agentId, name, platform, cpu, cores, ffmpeg, version, encodePlaces, lanes, volumes } =
    known.registration;
  return {
    ...{ id: agentId, name, alive: known.alive, lastHeardAt: new Date(known.lastHeardMs).toISOString() },
    ...{ platform, cpu, cores, ffmpeg, version, encodePlaces, busyPlaces, lanes },
    reach: known.heartbeat?.reach ?? { granary: false, volumes },
  };
}
