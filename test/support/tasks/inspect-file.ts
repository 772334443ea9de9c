// Runs the inspect task on one file, in a volume of its own that links to it.
import { basename, dirname } from 'node:path';
import type { MediaFacts } from '#shared/facts.ts';
import { type InspectOptions, inspectSource } from '../../../agent/tasks/inspect-source.ts';
import { openSource } from '../../../agent/tools/local-volumes.ts';
import { makeTaskWorld } from './task-world.ts';

/** `decodeShortWhole: false` takes the way of a long source: packets, head and tail. */
export async function inspectFile(path: string, options?: InspectOptions): Promise<MediaFacts> {
  await using world = await makeTaskWorld();
  const volumes = {
    ...world.context.volumes,
    openSource: (volumePath: string) => openSource({ media: dirname(path) }, volumePath),
  };
  const task = { jobId: 'jinspect0', attempt: 1, kind: 'inspect', path: `media:${basename(path)}` } as const;
  const { facts } = await inspectSource(task, { ...world.context, volumes }, options);
  return facts;
}
