// What counts as an answer of the coordinator, and how messages are repeated.

import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { type Answer, delayBefore, isStale, untilAnswered } from '../../../../agent/link/answer.ts';
import { readAnswer } from '../../../../agent/link/coordinator-client.ts';
import { urlOf } from '../../../../agent/link/http-request.ts';

describe('an answer', () => {
  const reply = z.strictObject({ proceed: z.boolean() });

  test('is taken when it fits its schema', () => {
    expect(readAnswer(200, '{"proceed":true}', reply)).toEqual({ kind: 'ok', value: { proceed: true } });
  });

  test.each([500, 502, 503, 429, 408])('that is %i may be repeated', (status) => {
    expect(readAnswer(status, 'busy', reply)).toMatchObject({ kind: 'silent' });
  });

  test.each([400, 401, 404, 409, 422, 507])('that is %i is a refusal with its one sentence', (status) => {
    const problem = JSON.stringify({ type: 'about:blank', detail: 'the attempt no longer counts' });
    expect(readAnswer(status, problem, reply)).toEqual({
      kind: 'refused',
      status,
      reason: 'the attempt no longer counts',
    });
  });

  test.each(['', 'ok', '{"proceed":"yes"}', '{"proceed":true,"more":1}'])(
    'that says %j is of another version',
    (text) => {
      expect(readAnswer(200, text, reply)).toMatchObject({
        kind: 'refused',
        reason: expect.stringContaining('another version'),
      });
    },
  );

  test('tells a stale attempt by its status', () => {
    expect([409, 404, 400].map((status) => isStale({ kind: 'refused', status, reason: '' }))).toEqual([
      true,
      true,
      false,
    ]);
    expect(isStale({ kind: 'ok', value: null })).toBe(false);
  });
});

describe('repeating', () => {
  test('goes on until there is an answer, and tells of the silence once', async () => {
    const answers: Answer<number>[] = [
      { kind: 'silent', reason: 'no connection' },
      { kind: 'silent', reason: 'no connection' },
      { kind: 'ok', value: 7 },
    ];
    const silences: string[] = [];
    const answer = await untilAnswered(async () => answers.shift() ?? { kind: 'silent', reason: 'used up' }, {
      signal: new AbortController().signal,
      onSilence: (reason) => silences.push(reason),
    });
    expect(answer).toEqual({ kind: 'ok', value: 7 });
    expect(silences).toEqual(['no connection']);
  });

  test('stops with the reason of its signal', async () => {
    const stop = new AbortController();
    const call = async (): Promise<Answer<never>> => {
      stop.abort(new Error('enough'));
      return { kind: 'silent', reason: 'no connection' };
    };
    await expect(untilAnswered(call, { signal: stop.signal })).rejects.toThrow('enough');
  });

  test('waits twice as long each time, up to five seconds', () => {
    expect([1, 2, 3, 4, 5, 6, 60].map((tries) => delayBefore(tries, 1))).toEqual([
      200, 400, 800, 1600, 3200, 5000, 5000,
    ]);
    expect(delayBefore(3, 0)).toBe(400);
  });
});

describe('an address', () => {
  test.each([
    ['http://server:7311', 'http://server:7311/v1/agents'],
    ['http://server:7311/', 'http://server:7311/v1/agents'],
    ['https://studio.example/mill', 'https://studio.example/mill/v1/agents'],
  ])('lies below %s', (base, expected) => {
    expect(urlOf({ baseUrl: new URL(base), token: null }, 'v1/agents').href).toBe(expected);
  });
});
