// Which attempts may open: a task has its place in a job's life, so that no result can come out of turn.
import { assertNever } from '#shared/errors.ts';
import type { JobState } from '#shared/job.ts';
import type { TaskKind } from '#shared/task.ts';
import type { JobEvent } from './job-events.ts';
import type { JobRecord } from './job-record.ts';

const opensIn: Record<TaskKind, readonly JobState[]> = {
  inspect: ['received'],
  encode: ['inspected', 'encoding'],
  sound: ['inspected', 'encoding'],
  join: ['joining'],
  check: ['checking'],
  deliver: ['checking'],
};

/** Why the attempt can't open, or null when it can. */
export function openProblem(record: JobRecord, event: Extract<JobEvent, { type: 'opened' }>): string | null {
  if (event.attempt !== record.attempts.length + 1) return `attempt ${event.attempt} is out of turn`;
  if (!opensIn[event.kind].includes(record.state))
    return `a ${record.state} job takes no ${event.kind} attempt`;
  switch (event.kind) {
    case 'inspect':
    case 'join':
    case 'check':
      return null;
    case 'sound':
      return record.plan === null ? 'there is no plan' : null;
    case 'encode':
      return leaseProblem(record, event);
    case 'deliver':
      return passed(record) ? null : 'the joined file has not passed its checks';
    default:
      return assertNever(event.kind);
  }
}

function leaseProblem({ plan }: JobRecord, { range }: Extract<JobEvent, { type: 'opened' }>): string | null {
  if (plan === null) return 'there is no plan';
  if (range === null) return 'an encode attempt needs a lease';
  return range.end > plan.frames ? `the lease ends at ${range.end}, the film at ${plan.frames}` : null;
}

function passed(record: JobRecord): boolean {
  return record.checks.length > 0 && record.checks.every((check) => check.ok);
}
