// A bell that one waiter sleeps beside: rung once or many times, it wakes once, and a ring before the wait counts.

export type Bell = {
  readonly ring: () => void;
  /** True when it rang, false when the time was up first. */
  readonly wait: (timeoutMs: number) => Promise<boolean>;
};

export function createBell(): Bell {
  let rung = false;
  let wake: (() => void) | null = null;
  return {
    ring: () => {
      rung = true;
      wake?.();
    },
    wait: async (timeoutMs) => {
      const { promise, resolve } = Promise.withResolvers<void>();
      wake = resolve;
      if (rung) resolve();
      const timer = setTimeout(resolve, timeoutMs);
      await promise;
      clearTimeout(timer);
      wake = null;
      const wasRung = rung;
      rung = false;
      return wasRung;
    },
  };
}
