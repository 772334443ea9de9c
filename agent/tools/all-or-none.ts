// Work side by side that is only of use together.
import { followSignals } from './follow-signal.ts';

type Results<T extends readonly Promise<unknown>[]> = { -readonly [K in keyof T]: Awaited<T[K]> };

/**
 * `start` begins all of it. Rejects with the first failure; by then the others were told to end by their signal, and have
 * ended.
 */
export async function allOrNone<T extends readonly Promise<unknown>[]>(
  leader: AbortSignal,
  start: (signal: AbortSignal) => readonly [...T],
): Promise<Results<readonly [...T]>> {
  using end = followSignals(leader);
  const running = start(end.signal);
  try {
    return await Promise.all(running);
  } finally {
    end.abort();
    await Promise.allSettled(running);
  }
}
