// How a job was encoded, told by the stream of changes alone: who had which frames when, and which grains came of it.
import type { Change } from './changes.ts';

export type LeaseStory = {
  readonly attempt: number;
  readonly machine: string;
  /** Frames `[first, end)`. */
  readonly first: number;
  readonly end: number;
  /** Grains that came of it, by index, in the order of their storing. */
  readonly grains: readonly number[];
  /** Grains of the job that were stored already when it began. */
  readonly storedBefore: readonly number[];
  readonly how: 'open' | 'done' | 'failed' | 'lost' | 'stopped';
};

/** One entry for each encode attempt, oldest first. */
export function tellEncoding(changes: readonly Change[]): LeaseStory[] {
  const leases: LeaseStory[] = [];
  const stored: number[] = [];
  const change = (attempt: unknown, next: (lease: LeaseStory) => Partial<LeaseStory>) => {
    const at = leases.findIndex((lease) => lease.attempt === attempt);
    const lease = leases[at];
    if (lease !== undefined) leases[at] = { ...lease, ...next(lease) };
  };
  for (const { type, detail } of changes) {
    const { attempt } = detail;
    if (type === 'opened' && detail['kind'] === 'encode') leases.push(openedLease(detail, stored));
    if (type === 'grain') {
      stored.push(Number(detail['grain']));
      change(attempt, ({ grains }) => ({ grains: [...grains, Number(detail['grain'])] }));
    }
    if (type === 'ended') change(attempt, () => ({ how: detail['ok'] === true ? 'done' : 'failed' }));
    if (type === 'lost' || type === 'stopped') change(attempt, () => ({ how: type }));
  }
  return leases;
}

/** Grains that were given out although they were stored, and grains that were stored twice; both should be none. */
export function workDoneTwice(leases: readonly LeaseStory[], grainFrames: number): string[] {
  const again = leases.flatMap((lease) =>
    lease.storedBefore
      .filter((grain) => grain * grainFrames < lease.end && (grain + 1) * grainFrames > lease.first)
      .map((grain) => `attempt ${lease.attempt} was given grain ${grain}, which was stored`),
  );
  const all = leases.flatMap((lease) => lease.grains);
  const twice = all
    .filter((grain, at) => all.indexOf(grain) !== at)
    .map((grain) => `grain ${grain} was stored twice`);
  return [...again, ...twice];
}

/** Grains that a lease was given and did not bring in. */
export function grainsLeft(lease: LeaseStory, grainFrames: number): number[] {
  const due = Array.from(
    { length: Math.ceil((lease.end - lease.first) / grainFrames) },
    (_, at) => lease.first / grainFrames + at,
  );
  return due.filter((grain) => !lease.grains.includes(grain));
}

function openedLease(detail: Change['detail'], stored: readonly number[]): LeaseStory {
  return {
    attempt: Number(detail['attempt']),
    machine: String(detail['machine']),
    first: Number(detail['first']),
    end: Number(detail['end']),
    grains: [],
    storedBefore: [...stored],
    how: 'open',
  };
}
