// The volumes and who reaches them.
import { z } from 'zod';
import type { Machine } from '#shared/job.ts';

export const volumeViewSchema = z.strictObject({
  name: z.string(),
  /** The folder as the coordinator sees it. */
  path: z.string(),
  machines: z.array(z.strictObject({ machine: z.string(), readable: z.boolean(), writable: z.boolean() })),
});
export type VolumeView = z.infer<typeof volumeViewSchema>;

export function viewVolumes(
  volumes: Readonly<Record<string, string>>,
  machines: readonly Machine[],
): VolumeView[] {
  return Object.entries(volumes).map(([name, path]) => ({
    name,
    path,
    machines: machines.flatMap((machine) => {
      const reach = machine.reach.volumes[name];
      return machine.alive && reach ? [{ machine: machine.name, ...reach }] : [];
    }),
  }));
}
