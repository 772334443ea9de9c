// Whatever order events come in, sensible or not, a job keeps its promises (N7, N8, N10), and can still be delivered.
import fc from 'fast-check';
import { expect, it } from 'vitest';
import { grainCount, grainRange } from '#shared/plan.ts';
import type { TaskKind } from '#shared/task.ts';
import { applyEvent, beginRecord, isWorking } from '../../../../coordinator/state/apply-event.ts';
import { dueWork } from '../../../../coordinator/state/due-work.ts';
import { type JobEvent, jobEventSchema } from '../../../../coordinator/state/job-events.ts';
import { findAttempt, type JobRecord, openAttempts } from '../../../../coordinator/state/job-record.ts';
import {
  endedEvent,
  openedEvent,
  receivedEvent,
  sampleCheck,
  sampleFailure,
  sampleGrain,
  samplePlan,
  sampleResult,
} from '../../../support/job-builders.ts';
import { mustApply, storyUpTo } from '../../../support/job-story.ts';

/** What may happen next, chosen with the record at hand so that some of it makes sense. */
type Move = (record: JobRecord) => JobEvent;

const kinds: TaskKind[] = ['inspect', 'encode', 'sound', 'join', 'check', 'deliver'];
const kind = fc.constantFrom(...kinds);
const index = fc.integer({ min: 0, max: 5 });
/** Mostly one of the open attempts; else any of the newest, open or not, or one that isn't there. */
const pick = fc.integer({ min: 0, max: 9 });
function numberOf(record: JobRecord, choice: number): number {
  const open = openAttempts(record);
  const stale = Math.max(1, record.attempts.length + 1 - choice);
  return choice > 2 ? (open[choice % open.length]?.number ?? stale) : stale;
}
const failure = sampleFailure();
const usual = sampleGrain(0).signature;
const always = (event: JobEvent): fc.Arbitrary<Move> => fc.constant(() => event);

const open = fc.tuple(kind, index, index).map(
  ([which, a, b]): Move =>
    (record) => {
      const range = { first: Math.min(a, b) * 48, end: (Math.max(a, b) + 1) * 48 };
      return openedEvent(record.attempts.length + 1, which, which === 'encode' ? { range } : {});
    },
);
const openDue: Move = (record) => {
  const due = dueWork(record);
  const next = record.attempts.length + 1;
  const [run] = due.runs;
  return run ? openedEvent(next, 'encode', { range: run }) : openedEvent(next, due.desk[0] ?? 'inspect');
};
const grain = fc.tuple(pick, index, fc.constantFrom(usual, usual, usual, 'other')).map(
  ([choice, i, signature]): Move =>
    (record) => ({ type: 'grain', attempt: numberOf(record, choice), grain: sampleGrain(i, { signature }) }),
);
const endWell = pick.map(
  (choice): Move =>
    (record) => {
      const number = numberOf(record, choice);
      return endedEvent(number, sampleResult(findAttempt(record, number)?.kind ?? 'inspect'));
    },
);
const move: fc.Arbitrary<Move> = fc.oneof(
  { weight: 20, arbitrary: fc.constant(openDue) },
  { weight: 10, arbitrary: open },
  { weight: 40, arbitrary: grain },
  { weight: 15, arbitrary: endWell },
  { weight: 5, arbitrary: always({ type: 'planned', plan: samplePlan }) },
  fc.tuple(pick, kind).map(
    ([choice, which]): Move =>
      (record) =>
        endedEvent(numberOf(record, choice), sampleResult(which)),
  ),
  pick.map(
    (choice): Move =>
      (record) =>
        endedEvent(numberOf(record, choice), { kind: 'check', checks: [sampleCheck(false)] }),
  ),
  pick.map(
    (choice): Move =>
      (record) => ({ type: 'ended', attempt: numberOf(record, choice), outcome: { ok: false, failure } }),
  ),
  pick.map(
    (choice): Move =>
      (record) => ({ type: 'lost', attempt: numberOf(record, choice), failure }),
  ),
  pick.map(
    (choice): Move =>
      (record) => ({ type: 'stopped', attempt: numberOf(record, choice) }),
  ),
  fc.tuple(pick, index).map(
    ([choice, i]): Move =>
      (record) => ({ type: 'lease-moved', attempt: numberOf(record, choice), end: i * 48 + 48 }),
  ),
  index.map(
    (i): Move =>
      () => ({ type: 'remade', grains: [i], fallback: 'grains', reason: failure }),
  ),
  always({ type: 'remade', grains: null, fallback: 'whole', reason: failure }),
  always({ type: 'replanned', plan: samplePlan, reason: failure }),
  always({ type: 'held', reason: failure }),
  always({ type: 'failed', reason: failure }),
  always({ type: 'cancelled' }),
  { weight: 4, arbitrary: always({ type: 'retried' }) },
  always(receivedEvent()),
);
/** Half a life that went well, so that every state is met often, and then anything. */
const start = fc.constantFrom(...(['received', 'encoding', 'encoding', 'joining', 'checking'] as const));
const moves = fc.tuple(start, fc.array(move, { maxLength: 40, size: 'max' })).map(([state, list]): Move[] => [
  ...storyUpTo(state).map(
    (event): Move =>
      () =>
        event,
  ),
  ...list,
]);

/** Plays the moves; `see` gets every step, `next` being null for a refused one. Returns the taken events and the end. */
function play(
  list: readonly Move[],
  see: (before: JobRecord, event: JobEvent, next: JobRecord | null) => void = () => {},
) {
  let record = beginRecord('jsample001', receivedEvent(), 0);
  const taken: { event: JobEvent; atMs: number }[] = [];
  for (const [step, choose] of list.entries()) {
    const event = choose(record);
    const applied = applyEvent(record, event, step);
    const next = 'refused' in applied ? null : applied.record;
    see(record, event, next);
    if (next) taken.push({ event, atMs: step });
    record = next ?? record;
  }
  return { record, taken };
}

const runs = { numRuns: 100 };

it('attempts are numbered from 1 without gaps, and only working jobs have open ones', () => {
  fc.assert(
    fc.property(moves, (list) => {
      play(list, (_before, _event, next) => {
        if (next === null) return;
        expect(next.attempts.map((attempt) => attempt.number)).toEqual(next.attempts.map((_, i) => i + 1));
        if (!isWorking(next.state)) expect(openAttempts(next)).toEqual([]);
      });
    }),
    runs,
  );
});

it('an attempt that is not open changes nothing any more', () => {
  fc.assert(
    fc.property(moves, (list) => {
      play(list, (before, event, next) => {
        if (!('attempt' in event) || event.type === 'opened') return;
        if (findAttempt(before, event.attempt)?.state !== 'open') expect(next).toBeNull();
      });
    }),
    runs,
  );
});

it('a stored grain stays as it is until it is to be made again, and all are of one kind', () => {
  fc.assert(
    fc.property(moves, (list) => {
      play(list, (before, event, next) => {
        if (next === null) return;
        for (const [i, stored] of next.grains) {
          const { first, end } = grainRange(samplePlan, i);
          expect(stored.frames).toBe(end - first);
          expect(stored.signature).toBe(next.signature);
        }
        if (['remade', 'replanned', 'retried'].includes(event.type)) return;
        for (const [i, stored] of before.grains) expect(next.grains.get(i)).toBe(stored);
      });
    }),
    runs,
  );
});

it('only one attempt is the maker of a result: the others at the same step are no longer open', () => {
  fc.assert(
    fc.property(moves, (list) => {
      play(list, (before, event, next) => {
        if (next === null || event.type !== 'ended' || !event.outcome.ok) return;
        const ended = findAttempt(before, event.attempt)?.kind;
        if (ended !== 'encode')
          expect(openAttempts(next).filter((other) => other.kind === ended)).toEqual([]);
      });
    }),
    runs,
  );
});

it('a film that is made again starts with nobody at work on it', () => {
  fc.assert(
    fc.property(moves, (list) => {
      play(list, (_before, event, next) => {
        if (event.type === 'remade' || event.type === 'replanned')
          expect(next ? openAttempts(next) : []).toEqual([]);
      });
    }),
    runs,
  );
});

it('a resting job is left only by retried or cancelled, a delivered one never', () => {
  fc.assert(
    fc.property(moves, (list) => {
      play(list, (before, event, next) => {
        if (isWorking(before.state) || next === null) return;
        expect(['held', 'failed']).toContain(before.state);
        expect(['retried', 'cancelled']).toContain(event.type);
      });
    }),
    runs,
  );
});

it('what is delivered is complete and passed every check', () => {
  fc.assert(
    fc.property(moves, (list) => {
      const { record } = play([...list, () => ({ type: 'retried' }), ...goodNight(30)]);
      if (record.state !== 'delivered') return;
      expect(record.grains.size).toBe(grainCount(samplePlan));
      expect(record.joined).not.toBeNull();
      expect(record.checks.length).toBeGreaterThan(1);
      expect(record.checks.filter((check) => !check.ok)).toEqual([]);
    }),
    runs,
  );
});

it('events read back from text give the same record again', () => {
  fc.assert(
    fc.property(moves, (list) => {
      const { record, taken } = play(list);
      const replayed = taken.reduce(
        (before, { event, atMs }) =>
          mustApply(before, jobEventSchema.parse(JSON.parse(JSON.stringify(event))), atMs),
        beginRecord('jsample001', receivedEvent(), 0),
      );
      expect(replayed).toEqual(record);
    }),
    runs,
  );
});

it('an event never changes the record that it is applied to, and does the same each time', () => {
  fc.assert(
    fc.property(moves, (list) => {
      let copy: JobRecord | null = null;
      play(list, (before, event, next) => {
        if (copy !== null) expect(before).toEqual(copy);
        const again = applyEvent(before, event, next?.changedMs ?? 0);
        expect('refused' in again ? null : again.record).toEqual(next);
        copy = structuredClone(next ?? before);
      });
    }),
    { numRuns: 25 },
  );
});

it('whatever happened, a job that was not cancelled can still be delivered by doing what is due', () => {
  fc.assert(
    fc.property(moves, (list) => {
      const { record } = play([...list, () => ({ type: 'retried' }), ...goodNight(60)]);
      expect(['delivered', 'cancelled']).toContain(record.state);
    }),
    runs,
  );
});

/** Everything goes well from here: what is open ends, what is due is opened, failed checks are made good. */
function goodNight(steps: number): Move[] {
  return Array.from({ length: steps }, () => (record: JobRecord): JobEvent => {
    if (record.facts !== null && record.plan === null) return { type: 'planned', plan: samplePlan };
    if (record.checks.some((check) => !check.ok))
      return { type: 'remade', grains: null, fallback: 'whole', reason: failure };
    const attempt = openAttempts(record)[0];
    if (attempt === undefined) return openDue(record);
    const missing = [0, 1, 2, 3, 4].find((i) => inLease(attempt.range, i) && !record.grains.has(i));
    if (missing === undefined) return endedEvent(attempt.number, sampleResult(attempt.kind));
    return {
      type: 'grain',
      attempt: attempt.number,
      grain: sampleGrain(missing, { signature: record.signature ?? usual }),
    };
  });
}

function inLease(range: { first: number; end: number } | null, i: number): boolean {
  const grainFrames = grainRange(samplePlan, i);
  return range !== null && range.first <= grainFrames.first && grainFrames.end <= range.end;
}
