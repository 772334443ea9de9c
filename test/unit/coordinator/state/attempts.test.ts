// What attempts may change, and what of it counts (N3, N6, N7).
import { describe, expect, it } from 'vitest';
import { applyEvent } from '../../../../coordinator/state/apply-event.ts';
import type { JobEvent } from '../../../../coordinator/state/job-events.ts';
import { openAttempts } from '../../../../coordinator/state/job-record.ts';
import {
  endedEvent,
  openedEvent,
  sampleCheck,
  sampleFailure,
  sampleGrain,
  samplePlan,
  sampleResult,
} from '../../../support/job-builders.ts';
import { storyUpTo, tell } from '../../../support/job-story.ts';

const encoding = storyUpTo('encoding');

function refusal(story: JobEvent[], event: JobEvent): string | null {
  const applied = applyEvent(tell(story), event, 9000);
  return 'refused' in applied ? applied.refused : null;
}

const grain = (attempt: number, index: number, changes = {}): JobEvent => ({
  type: 'grain',
  attempt,
  grain: sampleGrain(index, changes),
});

describe('a grain', () => {
  it('counts once, though two attempts make it', () => {
    const story = [...encoding, openedEvent(3, 'encode'), grain(2, 0)];
    expect(refusal(story, grain(3, 0))).toBe('grain 0 is stored already');
    expect(tell(story).grains.get(0)?.attempt).toBe(2);
  });

  it('fixes the signature that every other grain has to have', () => {
    const story = [...encoding, grain(2, 0)];
    expect(refusal(story, grain(2, 1, { signature: 'another' }))).toContain('of another kind');
    expect(refusal(story, grain(2, 1))).toBeNull();
  });

  it.each([
    [
      'from an attempt that was lost',
      [{ type: 'lost', attempt: 2, failure: sampleFailure('agent-lost') } as const],
      grain(2, 0),
    ],
    ['outside the lease', [{ type: 'lease-moved', attempt: 2, end: 96 } as const], grain(2, 2)],
    ['with a frame too few', [], grain(2, 0, { frames: 47 })],
    ['beyond the film', [], grain(2, 5, { frames: 48 })],
    ['from an attempt at another task', [openedEvent(3, 'sound')], grain(3, 0)],
  ])('is refused %s', (_, more, event) => {
    expect(refusal([...encoding, ...more], event)).not.toBeNull();
  });
});

describe('a lease', () => {
  it('moves down only', () => {
    const moved: JobEvent = { type: 'lease-moved', attempt: 2, end: 96 };
    expect(tell([...encoding, moved]).attempts[1]?.range).toEqual({ first: 0, end: 96 });
    expect(refusal([...encoding, moved], { ...moved, end: 144 })).not.toBeNull();
    expect(refusal(encoding, { ...moved, end: 240 })).not.toBeNull();
  });

  it('lies within the film', () => {
    expect(refusal(encoding, openedEvent(3, 'encode', { range: { first: 192, end: 288 } }))).toContain(
      'the film at 240',
    );
    expect(refusal(encoding, openedEvent(3, 'encode', { range: null }))).not.toBeNull();
  });
});

describe('a result', () => {
  it('stops what was at the same step, so that a second one changes nothing', () => {
    const story = [
      ...storyUpTo('joining'),
      openedEvent(4, 'join'),
      openedEvent(5, 'join'),
      endedEvent(4, sampleResult('join')),
    ];
    expect(tell(story).attempts[4]?.state).toBe('stopped');
    expect(refusal(story, endedEvent(5, sampleResult('join')))).not.toBeNull();
  });

  it('of another kind than its attempt is refused', () => {
    expect(refusal(encoding, endedEvent(2, sampleResult('join')))).not.toBeNull();
  });

  it('leaves other encode attempts running', () => {
    const story = [...encoding, openedEvent(3, 'encode'), endedEvent(2, sampleResult('encode'))];
    expect(openAttempts(tell(story)).map((attempt) => attempt.number)).toEqual([3]);
  });
});

describe('delivery', () => {
  const checked = storyUpTo('delivered').slice(0, -2);
  const failedCheck: JobEvent[] = [
    ...storyUpTo('checking'),
    openedEvent(5, 'check'),
    endedEvent(5, { kind: 'check', checks: [sampleCheck(true), sampleCheck(false, 'time')] }),
  ];

  it('needs checks, all of them passed', () => {
    expect(refusal(storyUpTo('checking'), openedEvent(5, 'deliver'))).not.toBeNull();
    expect(refusal(failedCheck, openedEvent(6, 'deliver'))).not.toBeNull();
    expect(refusal(checked, openedEvent(6, 'deliver'))).toBeNull();
  });

  it('of other bytes than the checked ones is a failure', () => {
    const result = { ...sampleResult('deliver'), check: sampleCheck(false, 'bytes') } as ReturnType<
      typeof sampleResult
    >;
    const record = tell([...checked, openedEvent(6, 'deliver'), endedEvent(6, result)]);
    expect(record).toMatchObject({ state: 'checking', delivered: null });
    expect(record.failures.at(-1)?.code).toBe('delivery-failed');
  });

  it('adds the comparison of bytes to the checks', () => {
    expect(tell(storyUpTo('delivered')).checks.map((check) => check.name)).toEqual(['frame-count', 'bytes']);
  });
});

describe('going on', () => {
  const reason = sampleFailure('no-space', 'the disk is full');

  it('a held job keeps its grains', () => {
    const record = tell([...encoding, grain(2, 0), { type: 'held', reason }, { type: 'retried' }]);
    expect(record.grains.size).toBe(1);
    expect(openAttempts(record)).toEqual([]);
    expect(record.attempts.every((attempt) => attempt.forgiven)).toBe(true);
  });

  it('a job held because of its checks makes everything again', () => {
    const failed = endedEvent(5, { kind: 'check', checks: [sampleCheck(false)] });
    const story: JobEvent[] = [
      ...storyUpTo('checking'),
      openedEvent(5, 'check'),
      failed,
      { type: 'held', reason },
      { type: 'retried' },
    ];
    expect(tell(story)).toMatchObject({
      state: 'inspected',
      plan: null,
      sound: null,
      joined: null,
      checks: [],
    });
  });

  it('what ends an attempt and the job with it stands once, and again when it happens again', () => {
    const refused = sampleFailure('source-truncated');
    const once: JobEvent[] = [
      openedEvent(1, 'inspect'),
      { type: 'ended', attempt: 1, outcome: { ok: false, failure: refused } },
      { type: 'failed', reason: structuredClone(refused) },
    ];
    expect(tell(once).failures).toEqual([refused]);
    const again: JobEvent[] = [
      { type: 'retried' },
      openedEvent(2, 'inspect'),
      { type: 'ended', attempt: 2, outcome: { ok: false, failure: refused } },
    ];
    expect(tell([...once, ...again]).failures).toEqual([refused, refused]);
  });

  it('checks that fail twice in the same way stand twice', () => {
    const unlike = sampleFailure('check-failed');
    const twice: JobEvent[] = [
      ...storyUpTo('checking'),
      { type: 'remade', grains: [], fallback: 'join', reason: unlike },
      { type: 'held', reason: unlike },
    ];
    expect(tell(twice).failures).toEqual([unlike, unlike]);
  });

  it('a failed job is inspected again, since its source may be another by now', () => {
    const story: JobEvent[] = [...storyUpTo('inspected'), { type: 'failed', reason }, { type: 'retried' }];
    expect(tell(story)).toMatchObject({ state: 'received', facts: null });
  });

  it('a film made again whole is leased whole and keeps nothing, not even its sound', () => {
    const record = tell([
      ...storyUpTo('checking'),
      { type: 'remade', grains: null, fallback: 'whole', reason },
    ]);
    expect(record).toMatchObject({ signature: null, stitchClass: null, sound: null, fallback: 'whole' });
    expect(record.grains.size).toBe(0);
    expect(record.plan).toEqual({ ...samplePlan, wholeBecause: 'the disk is full' });
  });
});
