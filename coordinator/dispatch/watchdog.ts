// Gives up on machines that fell silent and on attempts that nobody runs: their leases go back, their numbers never count
// again. A machine that was just met again after a restart of ours gets time to say what it still runs.
import type { Failure } from '#shared/failure.ts';
import type { JobBook } from '../ledger/job-book.ts';
import { openAttempts } from '../state/job-record.ts';
import type { Machines } from './machines.ts';
import type { Queues } from './queues.ts';

export type WatchdogParts = {
  readonly book: JobBook;
  readonly machines: Machines;
  readonly queues: Pick<Queues, 'forget'>;
  readonly lostAfterMs: number;
  /** When this coordinator began to listen. */
  readonly startedMs: number;
};

/** One look. Answers whether any attempt was given up, so that its work can be placed again. */
export function lookForLost(parts: WatchdogParts, nowMs: number): boolean {
  parts.machines.markSilent(nowMs);
  const silent = new Set<string>();
  for (const record of parts.book.working()) {
    for (const attempt of openAttempts(record)) {
      const machine = parts.machines.get(attempt.agentId);
      const stillExpected = machine === undefined && nowMs - parts.startedMs <= parts.lostAfterMs;
      if (machine?.alive === true || stillExpected) continue;
      const failure = lostFailure(attempt.machine, attempt.kind);
      parts.book.record(record.id, { type: 'lost', attempt: attempt.number, failure });
      silent.add(attempt.agentId);
    }
  }
  // What waits in its queue no longer counts; if Redis is away, the fence still holds.
  for (const agentId of silent) void parts.queues.forget(agentId).catch(() => undefined);
  return silent.size > 0;
}

function lostFailure(machine: string, stage: string): Failure {
  return {
    code: 'agent-lost',
    message: `${machine} no longer answers; its work goes to other machines. Check that it is on and that nightmill agent runs there`,
    stage,
    machine,
    details: {},
  };
}
