// What the result of a finished attempt changes in its job.
import { assertNever } from '#shared/errors.ts';
import type { Failure } from '#shared/failure.ts';
import type { TaskResult } from '#shared/task.ts';
import type { JobRecord } from './job-record.ts';

export function takeResult(record: JobRecord, result: TaskResult): JobRecord {
  switch (result.kind) {
    case 'inspect':
      return { ...record, facts: result.facts, state: 'inspected' };
    case 'encode':
      return record;
    case 'sound':
      return { ...record, sound: result.tracks };
    case 'join': {
      const { file, bytes, hash, dropped } = result;
      return { ...record, joined: { file, bytes, hash }, dropped, state: 'checking' };
    }
    case 'check':
      return { ...record, checks: result.checks };
    case 'deliver': {
      const { file, bytes, hash, check } = result;
      return {
        ...record,
        delivered: { file, bytes, hash },
        checks: [...record.checks, check],
        state: 'delivered',
      };
    }
    default:
      return assertNever(result);
  }
}

/** A result that says itself that its promise wasn't kept counts as a failure, whatever the agent called it (N6). */
export function brokenPromise(result: TaskResult): Failure | null {
  if (result.kind !== 'deliver' || result.check.ok) return null;
  const { measured, limit } = result.check;
  return {
    code: 'delivery-failed',
    message: `the delivered file is not the checked one: measured ${measured}, required ${limit}; retry the job`,
    stage: 'deliver',
    details: {},
  };
}
