// Notices when no agent of this call can encode the format: on a farm another machine may come, here none will.
import { setTimeout as sleep } from 'node:timers/promises';
import { proofToCome } from '#shared/link.ts';
import type { LaneView } from '../../api/views/lane-view.ts';
import type { Client } from '../client.ts';
import { CommandError, exitCodes } from '../exit-codes.ts';
import type { OnceRequest } from './once-request.ts';

const lookEveryMs = 1_000;

/** Never resolves. Rejects when every agent has tried and none can; stops looking once one can, or at `signal`. */
export async function rejectWithoutLane(
  client: Client,
  request: OnceRequest,
  signal: AbortSignal,
): Promise<never> {
  const { name, picture } = request.format;
  for (let undecided = true; undecided && !signal.aborted; ) {
    const lanes = await lanesFor(client, picture.codec);
    const failed = lanes.filter((lane) => !lane.proven && lane.reason !== proofToCome);
    if (failed.length > 0 && failed.length === lanes.length && agentsOf(lanes) === request.agents) {
      const reasons = [...new Set(failed.map((lane) => `${lane.id}: ${lane.reason ?? 'not proven'}`))].join(
        '; ',
      );
      const sentence = `this machine cannot encode ${picture.codec}, which ${name} needs (${reasons})`;
      throw new CommandError(exitCodes.workFailed, sentence);
    }
    undecided = !lanes.some((lane) => lane.proven);
    // Told to stop, the pause ends by rejecting; then there is nothing left to do.
    if (undecided) await sleep(lookEveryMs, undefined, { signal }).catch(() => {});
  }
  return new Promise<never>(() => {});
}

/** None while the coordinator doesn't answer: whoever waits for the jobs tells of that. */
async function lanesFor(client: Client, codec: LaneView['codec']): Promise<LaneView[]> {
  const answer = await client.get<{ items: LaneView[] }>('/v1/lanes').catch(() => ({ items: [] }));
  return answer.items.filter((lane) => lane.codec === codec);
}

function agentsOf(lanes: readonly LaneView[]): number {
  return new Set(lanes.map((lane) => lane.machine)).size;
}
