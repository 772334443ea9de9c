// Whether jobs can be taken: told from the last look at Redis, since a question must not wait for it.
import type { Queues } from './queues.ts';

export type Readiness = {
  /** Null when jobs can be taken, else why not. */
  notReady(): string | null;
  /** Looks again; never rejects. */
  look(): Promise<void>;
};

export function watchReadiness(queues: Pick<Queues, 'ping'>): Readiness {
  let trouble: string | null = null;
  return {
    notReady: () => trouble,
    look: () =>
      queues.ping().then(
        () => {
          trouble = null;
        },
        (error: unknown) => {
          trouble = `the queue cannot be reached: ${error instanceof Error ? error.message : String(error)}`;
        },
      ),
  };
}
