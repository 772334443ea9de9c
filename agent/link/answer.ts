// What a message to the coordinator can come to, and the patience with which messages are repeated.
import { setTimeout as sleep } from 'node:timers/promises';

/**
 * `ok`: taken. `refused`: answered with a 4xx, repeating it is of no use.
 * `silent`: no answer that counts (no connection, time out, 5xx, 429); it may be repeated.
 */
export type Answer<T> =
  | { readonly kind: 'ok'; readonly value: T }
  | { readonly kind: 'refused'; readonly status: number; readonly reason: string }
  | { readonly kind: 'silent'; readonly reason: string };

export type Answered<T> = Exclude<Answer<T>, { kind: 'silent' }>;

export type Patience = {
  readonly signal: AbortSignal;
  /** Told once, when the first try stays without an answer. */
  readonly onSilence?: (reason: string) => void;
};

const firstDelayMs = 200;
const longestDelayMs = 5_000;

/** Repeats `call` until it is answered. Rejects with the signal's reason when that fires first. */
export async function untilAnswered<T>(
  call: () => Promise<Answer<T>>,
  patience: Patience,
): Promise<Answered<T>> {
  for (let tries = 0; ; tries++) {
    patience.signal.throwIfAborted();
    const answer = await call();
    if (answer.kind !== 'silent') return answer;
    patience.signal.throwIfAborted();
    if (tries === 0) patience.onSilence?.(answer.reason);
    await sleep(delayBefore(tries + 1, Math.random()), undefined, { signal: patience.signal });
  }
}

/** Milliseconds before try `tries` (from 1): doubling up to 5 s; `chance` (0–1) spreads machines over the upper half. */
export function delayBefore(tries: number, chance: number): number {
  const full = Math.min(longestDelayMs, firstDelayMs * 2 ** (tries - 1));
  return Math.round(full * (0.5 + chance / 2));
}

/** No attempt of that number is open any more: it was superseded, or its job is gone. */
export function isStale(answer: Answer<unknown>): boolean {
  return answer.kind === 'refused' && (answer.status === 409 || answer.status === 404);
}
