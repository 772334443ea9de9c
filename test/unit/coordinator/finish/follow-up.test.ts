import { describe, expect, it } from 'vitest';
import type { CheckResult } from '#shared/check.ts';
import type { ErrorCode } from '#shared/errors.ts';
import { followUp } from '../../../../coordinator/finish/follow-up.ts';
import type { JobEvent } from '../../../../coordinator/state/job-events.ts';
import {
  endedEvent,
  openedEvent,
  receivedEvent,
  sampleFailure,
  sampleFormat,
} from '../../../support/job-builders.ts';
import { mustApply, storyUpTo, tell } from '../../../support/job-story.ts';

const options = { grainSeconds: null };

function failedEncode(attempt: number, agentId: string, code: ErrorCode = 'encoder-failed'): JobEvent[] {
  const failure = sampleFailure(code);
  return [
    openedEvent(attempt, 'encode', { agentId, machine: agentId }),
    { type: 'ended', attempt, outcome: { ok: false, failure } },
  ];
}

function checked(...checks: CheckResult[]): JobEvent[] {
  return [...storyUpTo('checking'), openedEvent(5, 'check'), endedEvent(5, { kind: 'check', checks })];
}

const check = (ok: boolean, frames: number[] = []): CheckResult => ({
  name: 'seams',
  ok,
  measured: 'x',
  limit: 'y',
  frames,
});

describe('what follows from a record', () => {
  it('plans as soon as the facts are there', () => {
    expect(followUp(tell(storyUpTo('inspected')), options)).toMatchObject({
      type: 'planned',
      plan: { frames: 240 },
    });
  });

  it('asks for nothing while work goes on or when it is over', () => {
    expect(followUp(tell(storyUpTo('encoding')), options)).toBeNull();
    expect(followUp(tell(storyUpTo('delivered')), options)).toBeNull();
  });

  it('ends a job whose source cannot be planned, with the reason', () => {
    const received = receivedEvent({ format: { ...sampleFormat, sound: { codec: 'aac' } } });
    const opened = openedEvent(1, 'inspect');
    const facts = {
      ...(tell(storyUpTo('inspected')).facts as NonNullable<ReturnType<typeof tell>['facts']>),
      warnings: ['damaged: 2 pictures'],
    };
    const record = tell([opened, endedEvent(1, { kind: 'inspect', facts })], received);
    expect(followUp(record, options)).toMatchObject({
      type: 'failed',
      reason: { code: 'source-damaged', stage: 'plan' },
    });
  });
});

describe('after failed attempts', () => {
  const begun = [...storyUpTo('inspected'), ...storyUpTo('encoding').slice(2, 3)];

  it('tries again after one failure, and holds the job after two machines failed', () => {
    expect(followUp(tell([...begun, ...failedEncode(2, 'a')]), options)).toBeNull();
    const twice = tell([...begun, ...failedEncode(2, 'a'), ...failedEncode(3, 'b')]);
    expect(followUp(twice, options)).toMatchObject({
      type: 'held',
      reason: { code: 'encoder-failed', machine: 'north' },
    });
  });

  it('holds after three failures on the only machine', () => {
    const events = [...begun, ...failedEncode(2, 'a'), ...failedEncode(3, 'a')];
    expect(followUp(tell(events), options)).toBeNull();
    expect(followUp(tell([...events, ...failedEncode(4, 'a')]), options)).toMatchObject({ type: 'held' });
  });

  it('forgives earlier failures once a person has retried', () => {
    const held = tell([...begun, ...failedEncode(2, 'a'), ...failedEncode(3, 'b')]);
    const again = [{ type: 'held', reason: sampleFailure() } as const, { type: 'retried' } as const].reduce(
      (record, event) => mustApply(record, event, 9000),
      held,
    );
    expect(followUp(again, options)).toBeNull();
  });

  it('ends at once when another try cannot help, and holds what a person can put right at the destination', () => {
    const gone = tell([
      openedEvent(1, 'inspect'),
      { type: 'ended', attempt: 1, outcome: { ok: false, failure: sampleFailure('no-picture') } },
    ]);
    expect(followUp(gone, options)).toMatchObject({ type: 'failed', reason: { code: 'no-picture' } });
    const taken = tell([
      ...checked(check(true)),
      openedEvent(6, 'deliver'),
      { type: 'ended', attempt: 6, outcome: { ok: false, failure: sampleFailure('destination-exists') } },
    ]);
    expect(followUp(taken, options)).toMatchObject({ type: 'held', reason: { code: 'destination-exists' } });
  });

  it('refuses damage that an encoder met, or plans around it where the format says so', () => {
    expect(followUp(tell([...begun, ...failedEncode(2, 'a', 'source-damaged')]), options)).toMatchObject({
      type: 'failed',
    });
    const lenient = receivedEvent({ format: { ...sampleFormat, damagedSource: 'deliver-what-decodes' } });
    const record = tell([...begun, ...failedEncode(2, 'a', 'source-damaged')], lenient);
    const event = followUp(record, options);
    expect(event).toMatchObject({ type: 'replanned', plan: { picture: { tolerant: true, resample: true } } });
    expect(followUp(mustApply(record, event as JobEvent, 9000), options)).toBeNull();
  });
});

describe('after failed checks', () => {
  it('makes the named grains again, then the whole film on one lane, then waits for a person', () => {
    const first = tell(checked(check(false, [50, 99]), check(true)));
    const remade = followUp(first, options);
    expect(remade).toMatchObject({
      type: 'remade',
      grains: [1, 2],
      fallback: 'grains',
      reason: { code: 'check-failed' },
    });
    const second = { ...first, fallback: 'grains' as const };
    expect(followUp(second, options)).toMatchObject({ type: 'remade', grains: null, fallback: 'whole' });
    expect(followUp({ ...first, fallback: 'whole' }, options)).toMatchObject({
      type: 'held',
      reason: { code: 'check-failed' },
    });
  });

  it('goes to the whole film at once when no frame is named', () => {
    expect(followUp(tell(checked(check(false))), options)).toMatchObject({
      type: 'remade',
      grains: null,
      fallback: 'whole',
    });
  });

  it('makes sound again when only the sound failed, joins again for a label, and no picture for either', () => {
    const unsound = tell(checked({ ...check(false), name: 'loudness' }));
    const remade = followUp(unsound, options);
    expect(remade).toMatchObject({ type: 'remade', grains: [], sound: true, fallback: 'join' });
    const after = mustApply(unsound, remade as JobEvent, 9000);
    expect(after).toMatchObject({ joined: null, sound: null, checks: [] });
    expect(after.grains).toEqual(unsound.grains);
    expect(followUp({ ...unsound, fallback: 'join' }, options)).toMatchObject({ type: 'held' });

    const mislabelled = tell(checked({ ...check(false), name: 'labels' }));
    const joinedAgain = mustApply(mislabelled, followUp(mislabelled, options) as JobEvent, 9000);
    expect(joinedAgain).toMatchObject({ state: 'joining', joined: null, fallback: 'join' });
    expect(joinedAgain.sound).toEqual(mislabelled.sound);
  });

  it('makes the sound again beside the grains when both failed', () => {
    const record = tell(checked(check(false, [50]), { ...check(false), name: 'sound-offset' }));
    expect(followUp(record, options)).toMatchObject({ type: 'remade', grains: [1], sound: true });
  });

  it('never delivers after a failed check', () => {
    const record = tell(checked(check(false, [50])));
    const after = mustApply(record, followUp(record, options) as JobEvent, 9000);
    expect(after).toMatchObject({ state: 'encoding', joined: null, checks: [] });
    expect([...after.grains.keys()]).not.toContain(1);
  });
});
