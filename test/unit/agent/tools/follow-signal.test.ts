// A signal that follows others.
import { expect, test } from 'vitest';
import { followSignals } from '../../../../agent/tools/follow-signal.ts';

test('it fires with the first of its leaders, for the same reason', () => {
  const [first, second] = [new AbortController(), new AbortController()];
  const { signal } = followSignals(first.signal, second.signal);
  expect(signal.aborted).toBe(false);
  second.abort('enough');
  first.abort('too late');
  expect(signal.reason).toBe('enough');
});

test('it has fired when a leader had', () => {
  const { signal } = followSignals(new AbortController().signal, AbortSignal.abort('before'));
  expect(signal.reason).toBe('before');
});

test('it fires by itself, and when it is disposed of; its leader does not', () => {
  const leader = new AbortController();
  const [one, another] = [followSignals(leader.signal), followSignals(leader.signal)];
  one.abort('alone');
  another[Symbol.dispose]();
  expect([one.signal.reason, another.signal.aborted, leader.signal.aborted]).toEqual(['alone', true, false]);
});
