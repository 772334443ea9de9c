// What must follow from a job's record without anybody's doing: a plan from facts, another try after a failed check,
// holding a job that keeps failing. Pure and level-triggered: asked again after every event and after a restart.

import { errorKinds } from '#shared/errors.ts';
import type { Failure } from '#shared/failure.ts';
import { toFailure } from '#shared/failure.ts';
import { makePlan } from '../plan/make-plan.ts';
import { isWorking } from '../state/apply-event.ts';
import type { JobEvent } from '../state/job-events.ts';
import type { Attempt, JobRecord } from '../state/job-record.ts';
import { afterFailedChecks } from './after-failed-checks.ts';

export type FollowUpOptions = { readonly grainSeconds: number | null };

/** Attempts of one kind that may fail before a person has to look, when no second machine has tried. */
const triesOnOneMachine = 3;

/** The next event, or null when the job waits for work or for a person. */
export function followUp(record: JobRecord, options: FollowUpOptions): JobEvent | null {
  if (!isWorking(record.state)) return null;
  return afterFailedAttempts(record, options) ?? plan(record, options) ?? afterFailedChecks(record);
}

function plan(record: JobRecord, options: FollowUpOptions, damageMet = false): JobEvent | null {
  if (record.facts === null || record.plan !== null) return null;
  try {
    const { facts, format } = record;
    return {
      type: 'planned',
      plan: makePlan({ facts, format, grainSeconds: options.grainSeconds, damageMet }),
    };
  } catch (error) {
    return { type: 'failed', reason: toFailure(error, 'plan') };
  }
}

function afterFailedAttempts(record: JobRecord, options: FollowUpOptions): JobEvent | null {
  const failed = record.attempts.filter((attempt) => attempt.state === 'failed' && !attempt.forgiven);
  const last = failed.at(-1);
  if (last?.failure == null) return null;
  const final = finalOutcome(record, { attempt: last, failure: last.failure }, options);
  if (final !== null) return final;
  const alike = failed.filter((attempt) => attempt.kind === last.kind && overlaps(attempt, last));
  const machines = new Set(alike.map((attempt) => attempt.agentId));
  if (machines.size >= 2 || alike.length >= triesOnOneMachine) return { type: 'held', reason: last.failure };
  return null;
}

/** Failures that another try can't change. */
function finalOutcome(
  record: JobRecord,
  { attempt, failure }: { attempt: Attempt; failure: Failure },
  options: FollowUpOptions,
): JobEvent | null {
  if (failure.code === 'source-damaged' && attempt.kind === 'encode')
    return damagedSource(record, failure, options);
  if (errorKinds[failure.code].retryable) return null;
  // What a person can put right at the destination keeps the finished work waiting; a bad source ends the job.
  return { type: attempt.kind === 'deliver' || attempt.kind === 'join' ? 'held' : 'failed', reason: failure };
}

/** An encoder met pictures that don't decode: plan anew if the format takes what decodes. */
function damagedSource(record: JobRecord, failure: Failure, options: FollowUpOptions): JobEvent {
  if (record.plan?.picture.tolerant === true) return { type: 'held', reason: failure };
  const again = plan({ ...record, plan: null }, options, true);
  if (again?.type === 'planned') return { type: 'replanned', plan: again.plan, reason: failure };
  return again ?? { type: 'failed', reason: failure };
}

/** Encode attempts are alike when they tried the same frames. */
function overlaps(a: Attempt, b: Attempt): boolean {
  if (a.range === null || b.range === null) return true;
  return a.range.first < b.range.end && b.range.first < a.range.end;
}
