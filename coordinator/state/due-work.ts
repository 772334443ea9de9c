// What a job needs next, read off its record. Nothing is remembered elsewhere, so a restarted coordinator knows it too.
import { grainCount, grainRange } from '#shared/plan.ts';
import type { FrameRange } from '#shared/schema-parts.ts';
import type { TaskKind } from '#shared/task.ts';
import { isWorking } from './apply-event.ts';
import { type JobRecord, openAttempts } from './job-record.ts';

export type DueWork = {
  /** Tasks other than encoding that should run now and don't. */
  readonly desk: readonly Exclude<TaskKind, 'encode'>[];
  /** Runs of grains that are neither stored nor leased, in order, on grain borders. */
  readonly runs: readonly FrameRange[];
};

const nothing: DueWork = { desk: [], runs: [] };

export function dueWork(record: JobRecord): DueWork {
  if (!isWorking(record.state)) return nothing;
  const open = new Set(openAttempts(record).map((attempt) => attempt.kind));
  const desk = (kind: DueWork['desk'][number]): DueWork =>
    open.has(kind) ? nothing : { desk: [kind], runs: [] };
  switch (record.state) {
    case 'received':
      return desk('inspect');
    case 'joining':
      return desk('join');
    case 'checking':
      return desk(record.checks.length > 0 && record.checks.every((check) => check.ok) ? 'deliver' : 'check');
    default:
      return record.plan === null
        ? nothing
        : { desk: soundDue(record, open) ? ['sound'] : [], runs: freeRuns(record) };
  }
}

function soundDue(record: JobRecord, open: ReadonlySet<TaskKind>): boolean {
  return record.plan !== null && record.plan.sound.length > 0 && record.sound === null && !open.has('sound');
}

function freeRuns(record: JobRecord): FrameRange[] {
  const { plan } = record;
  if (plan === null) return [];
  const leases = openAttempts(record).flatMap((attempt) => (attempt.range === null ? [] : [attempt.range]));
  // A source that runs whole has one lease at a time, from the first grain that is missing to the end.
  if (plan.wholeBecause !== null && leases.length > 0) return [];
  const runs: FrameRange[] = [];
  for (let index = 0; index < grainCount(plan); index++) {
    const range = grainRange(plan, index);
    if (
      record.grains.has(index) ||
      leases.some((lease) => lease.first < range.end && range.first < lease.end)
    )
      continue;
    const last = runs.at(-1);
    if (last?.end === range.first) runs[runs.length - 1] = { first: last.first, end: range.end };
    else runs.push(range);
  }
  return runs;
}
