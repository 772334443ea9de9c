// Waits for something that happens in its own time: looks often, gives up loudly.
import { setTimeout as sleep } from 'node:timers/promises';

const lookEveryMs = 20;

/** Resolves with the first answer that isn't false, null or undefined; rejects with `what` after the deadline. */
export async function waitUntil<T>(
  what: string,
  look: () => T | Promise<T>,
  deadlineMs = 40_000,
): Promise<Exclude<T, false | null | undefined>> {
  const endMs = performance.now() + deadlineMs;
  for (;;) {
    const answer = await look();
    if (answer !== false && answer !== null && answer !== undefined) {
      return answer as Exclude<T, false | null | undefined>;
    }
    if (performance.now() > endMs) throw new Error(`after ${deadlineMs / 1000} s still not: ${what}`);
    await sleep(lookEveryMs);
  }
}
