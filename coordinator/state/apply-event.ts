// The one place where a job changes: (record, event) → next record, or why the event can't be. Pure; recovery
// replays it. States: received → inspected → encoding → joining → checking → delivered, or held, failed, cancelled.
//   received   no facts yet             → inspected when an inspect attempt ends well (or facts were known)
//   inspected  facts, then a plan       → encoding when the first encode attempt opens
//   encoding   grains and sound arrive  → joining when all of them are stored
//   joining    one join attempt         → checking when it ends well
//   checking   check, then deliver      → delivered; `remade` leads back to encoding
// held and failed go back to work by `retried`; cancelled and delivered are final.
import { assertNever } from '#shared/errors.ts';
import { type JobState, restingStates } from '#shared/job.ts';
import { grainCount } from '#shared/plan.ts';
import type { Applied } from './applied.ts';
import { applyGrain } from './apply-grain.ts';
import type { JobEvent } from './job-events.ts';
import { type Attempt, findAttempt, type JobRecord } from './job-record.ts';
import { openProblem } from './open-problem.ts';
import { brokenPromise, takeResult } from './take-result.ts';

/** The record of a new job. `event` must be `received`. */
export function beginRecord(
  id: string,
  event: Extract<JobEvent, { type: 'received' }>,
  atMs: number,
): JobRecord {
  return {
    id,
    batchId: event.batchId,
    submission: event.submission,
    format: event.format,
    deliverable: event.deliverable,
    receivedMs: atMs,
    changedMs: atMs,
    state: event.facts === null ? 'received' : 'inspected',
    facts: event.facts,
    plan: null,
    attempts: [],
    grains: new Map(),
    signature: null,
    stitchClass: null,
    sound: null,
    joined: null,
    checks: [],
    delivered: null,
    fallback: 'none',
    dropped: [],
    failures: [],
  };
}

/** The next record. `atMs` is the coordinator's clock when the event was written; replay passes the stored time. */
export function applyEvent(record: JobRecord, event: JobEvent, atMs: number): Applied {
  const applied = transition(record, event, atMs);
  return 'refused' in applied ? applied : { record: { ...advance(applied.record), changedMs: atMs } };
}

function transition(record: JobRecord, event: JobEvent, atMs: number): Applied {
  switch (event.type) {
    case 'received':
      return { refused: 'the job exists already' };
    case 'planned':
      return record.state === 'inspected' && record.plan === null
        ? { record: { ...record, plan: event.plan } }
        : { refused: `a ${record.state} job takes no ${record.plan === null ? '' : 'other '}plan` };
    case 'opened':
      return applyOpened(record, event, atMs);
    case 'grain':
      return applyGrain(record, event.attempt, event.grain);
    case 'lease-moved':
      return changeAttempt(record, event.attempt, (attempt) => moveLease(attempt, event.end));
    case 'ended':
      return applyEnded(record, event, atMs);
    case 'lost':
      return withFailure(
        closeAttempt(record, event.attempt, { state: 'lost', failure: event.failure, endedMs: atMs }),
        event.failure,
      );
    case 'stopped':
      return closeAttempt(record, event.attempt, { state: 'stopped', endedMs: atMs });
    case 'remade':
      return applyRemade(record, event, atMs);
    case 'replanned':
      return applyReplanned(record, event, atMs);
    case 'held':
    case 'failed':
      return isWorking(record.state)
        ? withReason(record, stopAll({ ...record, state: event.type }, atMs), event.reason)
        : { refused: `the job is ${record.state}` };
    case 'cancelled':
      return record.state === 'delivered' || record.state === 'cancelled'
        ? { refused: `the job is ${record.state}` }
        : { record: stopAll({ ...record, state: 'cancelled' }, atMs) };
    case 'retried':
      return record.state === 'held' || record.state === 'failed'
        ? { record: goOn(forgive(record)) }
        : { refused: `the job is ${record.state}; only a held or failed job can be retried` };
    default:
      return assertNever(event);
  }
}

export function isWorking(state: JobState): boolean {
  return !restingStates.includes(state);
}

function applyOpened(record: JobRecord, event: Extract<JobEvent, { type: 'opened' }>, atMs: number): Applied {
  const problem = openProblem(record, event);
  if (problem !== null) return { refused: problem };
  const { attempt: number, kind, agentId, machine, lane, range } = event;
  const attempt: Attempt = {
    number,
    kind,
    agentId,
    machine,
    lane,
    range,
    state: 'open',
    failure: null,
    openedMs: atMs,
    endedMs: null,
    forgiven: false,
  };
  const encoding = kind === 'encode' && record.state === 'inspected';
  return {
    record: {
      ...record,
      state: encoding ? 'encoding' : record.state,
      stitchClass: kind === 'encode' ? (record.stitchClass ?? event.stitchClass) : record.stitchClass,
      attempts: [...record.attempts, attempt],
    },
  };
}

function applyEnded(record: JobRecord, event: Extract<JobEvent, { type: 'ended' }>, atMs: number): Applied {
  const { attempt: number, outcome } = event;
  const failure = outcome.ok ? brokenPromise(outcome.result) : outcome.failure;
  if (failure !== null)
    return withFailure(closeAttempt(record, number, { state: 'failed', failure, endedMs: atMs }), failure);
  const kind = findAttempt(record, number)?.kind;
  if (!outcome.ok || (kind !== undefined && kind !== outcome.result.kind))
    return { refused: `attempt ${number} is ${kind}` };
  const closed = closeAttempt(record, number, { state: 'done', endedMs: atMs });
  if ('refused' in closed) return closed;
  // Work may run twice, its result counts once: what was still at the same step stops (N7).
  const taken = takeResult(closed.record, outcome.result);
  const settled = (other: Attempt) =>
    taken.state === 'delivered' || (other.kind === kind && kind !== 'encode');
  return { record: stopOpen(taken, atMs, settled) };
}

/** Encoding is over when every grain and the sound are there. */
function advance(record: JobRecord): JobRecord {
  if (record.state !== 'encoding' || record.plan === null) return record;
  const complete =
    record.grains.size === grainCount(record.plan) &&
    (record.plan.sound.length === 0 || record.sound !== null);
  return complete ? { ...record, state: 'joining' } : record;
}

function applyRemade(record: JobRecord, event: Extract<JobEvent, { type: 'remade' }>, atMs: number): Applied {
  if (!isWorking(record.state) || record.plan === null) return { refused: `the job is ${record.state}` };
  const all = event.grains === null;
  const grains = all ? new Map() : new Map(record.grains);
  for (const index of event.grains ?? []) grains.delete(index);
  const plan =
    event.fallback === 'whole' ? { ...record.plan, wholeBecause: event.reason.message } : record.plan;
  const again: JobRecord = {
    ...forgive(stopAll(record, atMs)),
    plan,
    grains,
    joined: null,
    checks: [],
    fallback: event.fallback,
    state: 'encoding',
    ...(all ? { signature: null, stitchClass: null } : {}),
    sound: all || event.sound === true ? null : record.sound,
  };
  return withFailure({ record: again }, event.reason);
}

function applyReplanned(
  record: JobRecord,
  { plan, reason }: Extract<JobEvent, { type: 'replanned' }>,
  atMs: number,
): Applied {
  if (!isWorking(record.state) || record.facts === null) return { refused: `the job is ${record.state}` };
  const again: JobRecord = { ...forgive(stopAll(record, atMs)), ...pictureAgain, plan, state: 'inspected' };
  return withReason(record, again, reason);
}

function moveLease(attempt: Attempt, end: number): Attempt | null {
  if (attempt.range === null || end >= attempt.range.end || end <= attempt.range.first) return null;
  return { ...attempt, range: { first: attempt.range.first, end } };
}

function closeAttempt(record: JobRecord, number: number, ending: Partial<Attempt>): Applied {
  return changeAttempt(record, number, (attempt) => ({ ...attempt, ...ending }));
}

function changeAttempt(
  record: JobRecord,
  number: number,
  change: (attempt: Attempt) => Attempt | null,
): Applied {
  const attempt = findAttempt(record, number);
  if (attempt?.state !== 'open') return { refused: `attempt ${number} is ${attempt?.state ?? 'unknown'}` };
  const changed = change(attempt);
  if (changed === null) return { refused: `that can't be done with attempt ${number}` };
  return { record: { ...record, attempts: record.attempts.with(number - 1, changed) } };
}

function withFailure(applied: Applied, failure: JobRecord['failures'][number]): Applied {
  return 'refused' in applied
    ? applied
    : { record: { ...applied.record, failures: [...applied.record.failures, failure] } };
}

/** What failed an attempt may end the job as well: it stands once. Of `before` the attempts that still weigh count. */
function withReason(before: JobRecord, record: JobRecord, reason: JobRecord['failures'][number]): Applied {
  const isTold = before.attempts.some(
    ({ forgiven, failure }) =>
      !forgiven &&
      failure?.code === reason.code &&
      failure.message === reason.message &&
      failure.machine === reason.machine,
  );
  return isTold ? { record } : withFailure({ record }, reason);
}

function stopAll(record: JobRecord, atMs: number): JobRecord {
  return stopOpen(record, atMs, () => true);
}

function stopOpen(record: JobRecord, atMs: number, which: (attempt: Attempt) => boolean): JobRecord {
  const attempts = record.attempts.map((attempt) =>
    attempt.state === 'open' && which(attempt)
      ? { ...attempt, state: 'stopped' as const, endedMs: atMs }
      : attempt,
  );
  return { ...record, attempts };
}

function forgive(record: JobRecord): JobRecord {
  return { ...record, attempts: record.attempts.map((attempt) => ({ ...attempt, forgiven: true })) };
}

/**
 * Where a retried job goes on. A failed job starts over, since its source may be another by now; a held one keeps what
 * is stored, unless the checks found fault with it.
 */
function goOn(record: JobRecord): JobRecord {
  const faulty = record.checks.some((check) => !check.ok);
  if (record.state === 'failed' || faulty) {
    const facts = record.state === 'failed' ? null : record.facts;
    return { ...record, ...nothingMade, facts, state: facts === null ? 'received' : 'inspected' };
  }
  return { ...record, state: heldState(record) };
}

const pictureAgain = {
  grains: new Map<number, never>(),
  signature: null,
  stitchClass: null,
  joined: null,
  checks: [],
} as const;

const nothingMade = { ...pictureAgain, plan: null, sound: null, fallback: 'none', dropped: [] } as const;

function heldState(record: JobRecord): JobState {
  if (record.facts === null) return 'received';
  if (record.plan === null) return 'inspected';
  return record.joined === null ? 'encoding' : 'checking';
}
