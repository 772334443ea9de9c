// A signal that follows another one.
import { expect, test } from 'vitest';
import { followSignal } from '../../../../coordinator/cli/follow-signal.ts';

test('it fires with its leader, for the same reason', () => {
  const leader = new AbortController();
  const { signal } = followSignal(leader.signal);
  expect(signal.aborted).toBe(false);
  leader.abort(new Error('enough'));
  expect(signal.reason).toEqual(new Error('enough'));
});

test('it has fired when its leader had', () => {
  expect(followSignal(AbortSignal.abort('before')).signal.reason).toBe('before');
});

test('it fires by itself when it is disposed of, and its leader does not', () => {
  const leader = new AbortController();
  const following = followSignal(leader.signal);
  following[Symbol.dispose]();
  expect([following.signal.aborted, leader.signal.aborted]).toEqual([true, false]);
});
