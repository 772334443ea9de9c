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
      if (!rung) await sleepUntil(timeoutMs, (resolve) => (wake = resolve));
      wake = null;
      const wasRung = rung;
      rung = false;
      return wasRung;
    },
  };
}

function sleepUntil(timeoutMs: number, expose: (resolve: () => void) => void): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, timeoutMs);
    expose(() => {
      clearTimeout(timer);
      resolve();
    });
  });
}
