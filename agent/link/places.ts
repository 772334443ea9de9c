// Places: how many tasks of a kind run at a time. The queue may hand over more than fit; the rest wait their turn.
import { MillError } from '#shared/errors.ts';

export type Places = {
  /**
   * Resolves when a place is free; dispose of it to give it back. Rejects with the signal's reason, or with
   * MillError `no-lane` when this machine lends no such places at all.
   */
  take(signal: AbortSignal): Promise<Disposable>;
};

export function createPlaces(count: number): Places {
  let free = count;
  const waiting: (() => void)[] = [];
  const giveBack = () => {
    free += 1;
    waiting.shift()?.();
  };
  return {
    async take(signal) {
      if (count === 0)
        throw new MillError('no-lane', 'this machine lends no places for such tasks; ask another one');
      signal.throwIfAborted();
      while (free === 0) await turn(waiting, signal);
      free -= 1;
      return { [Symbol.dispose]: giveBack };
    },
  };
}

function turn(waiting: (() => void)[], signal: AbortSignal): Promise<void> {
  return new Promise((resolve, reject) => {
    const leave = () => {
      const position = waiting.indexOf(go);
      if (position >= 0) waiting.splice(position, 1);
      reject(signal.reason);
    };
    const go = () => {
      signal.removeEventListener('abort', leave);
      resolve();
    };
    waiting.push(go);
    signal.addEventListener('abort', leave, { once: true });
  });
}
