// Everything that a real agent process needs around it in a test: a folder, a coordinator's stand-in, and what to ask them.
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import { type AttemptOutcome, attemptOutcomeSchema } from '#shared/task.ts';
import { type AgentProcess, startAgentProcess } from './agent-process.ts';
import { type StandIn, startStandIn } from './coordinator-stand-in.ts';
import { tempFolder } from './temp-folder.ts';
import { waitUntil } from './wait-until.ts';

export type AgentWorld = {
  /** Holds `media` (the volume of that name), `granary` and `state`. */
  readonly folder: string;
  readonly scratchRoot: string;
  readonly standIn: StandIn;
  start(words: readonly string[], environment?: Record<string, string>): Promise<AgentProcess>;
  /** Starts it and waits for its next registration. */
  startRegistered(words: readonly string[]): Promise<AgentProcess>;
  /** Waits for the outcome of an attempt of `jobId`. */
  outcomeOf(attempt: number): Promise<AttemptOutcome>;
};

export const jobId = 'j0000000001';

/** Options of an agent that only does tasks beside encoding, so that it has nothing to prove or measure. */
export const noLanes = ['--encode-places', '0'];

/** Call inside a test. */
export async function makeAgentWorld(redisUrl: string): Promise<AgentWorld> {
  const folder = await tempFolder();
  const standIn = await startStandIn({ redisUrl, granary: join(folder, 'granary') });
  onTestFinished(() => standIn[Symbol.asyncDispose]());
  const start: AgentWorld['start'] = (words, environment = {}) =>
    startAgentProcess({ coordinator: standIn.url, folder, words, environment });
  return {
    folder,
    scratchRoot: join(folder, 'state', 'agents', 'suite-2', 'scratch'),
    standIn,
    start,
    async startRegistered(words) {
      const before = standIn.registrations.length;
      const agent = await start(words);
      await waitUntil('it is registered', () => standIn.registrations.length > before);
      return agent;
    },
    async outcomeOf(attempt) {
      return attemptOutcomeSchema.parse(
        await waitUntil('the outcome', () => standIn.outcomes.get(`${jobId}/${attempt}`)),
      );
    },
  };
}
