// All lanes of the farm in one list, each with the machine that it belongs to.
import { z } from 'zod';
import type { Machine } from '#shared/job.ts';
import { laneSchema } from '#shared/link.ts';

export const laneViewSchema = z.strictObject({
  machine: z.string(),
  alive: z.boolean(),
  ...laneSchema.shape,
});
export type LaneView = z.infer<typeof laneViewSchema>;

export function viewLanes(machines: readonly Machine[]): LaneView[] {
  return machines.flatMap((machine) =>
    machine.lanes.map((lane) => ({ machine: machine.name, alive: machine.alive, ...lane })),
  );
}
