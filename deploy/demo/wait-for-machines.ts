// Machines may be given work when they have proven and measured what they encode with. Says who is ready, as they are.
import { setTimeout as sleep } from 'node:timers/promises';
import type { Machine } from '#shared/job.ts';
import { ask } from './coordinator-api.ts';
import { machines, wishes } from './scenario.ts';

const limitMs = 3 * 60_000;
const lookEveryMs = 200;

/** Rejects when one of them isn't ready in time, with what it says of itself. */
export async function untilMachinesAreReady(
  url: string,
  signal: AbortSignal,
  say: (line: string) => void,
): Promise<void> {
  const limit = AbortSignal.any([signal, AbortSignal.timeout(limitMs)]);
  const waiting = new Map(machines.map((machine) => [machine.name, machine]));
  let known: readonly Machine[] = [];
  while (waiting.size > 0) {
    await sleep(lookEveryMs, undefined, { signal: limit }).catch(() => {
      signal.throwIfAborted();
      throw new Error(
        `not ready after ${limitMs / 60_000} min: ${[...waiting.keys()].map((name) => describe(name, known)).join('; ')}`,
      );
    });
    known = (await ask<{ items: Machine[] }>(url, '/v1/machines', signal)).items;
    for (const machine of known.filter(isReady)) {
      const demo = waiting.get(machine.name);
      if (!demo) continue;
      waiting.delete(machine.name);
      say(`  ${demo.letter} ${demo.name.padEnd(14)} ${demo.about}`);
    }
  }
}

/** Every wish has a proven lane whose speed is known. */
function isReady({ alive, lanes }: Machine): boolean {
  const rated = lanes.filter(({ proven }) => proven).flatMap(({ rates }) => Object.keys(rates));
  return alive && wishes.every(({ format }) => rated.some((key) => key.startsWith(`${format}@`)));
}

function describe(name: string, known: readonly Machine[]): string {
  const machine = known.find((one) => one.name === name);
  if (!machine) return `${name} has not been heard of`;
  const reasons = machine.lanes
    .filter(({ reason }) => reason !== null)
    .map(({ id, reason }) => `${id}: ${reason}`);
  return `${name} (${reasons.join(', ') || 'no reason given'})`;
}
