// Why nobody works on a job that could go on: what a person can do about it at night, in one sentence.
import type { Machine } from '#shared/job.ts';
import { parseVolumePath } from '#shared/volume-path.ts';
import { isWorking } from '../../state/apply-event.ts';
import { dueWork } from '../../state/due-work.ts';
import { type JobRecord, openAttempts } from '../../state/job-record.ts';

/** Null for a job that is worked on, or that waits for a person (then its failure says why). */
export function waitingFor(record: JobRecord, machines: readonly Machine[]): string | null {
  if (!isWorking(record.state) || openAttempts(record).length > 0) return null;
  const { volume } = parseVolumePath(record.submission.source);
  const there = machines.filter(({ alive }) => alive);
  const reading = there.filter(({ reach }) => reach.volumes[volume]?.readable === true);
  if (reading.length === 0)
    return `no machine that is there reads the volume ${volume}; start an agent that has it mounted`;
  return dueWork(record).runs.length === 0 ? null : waitingForEncoder(record, { reading, there, volume });
}

type Farm = {
  readonly reading: readonly Machine[];
  readonly there: readonly Machine[];
  readonly volume: string;
};

function waitingForEncoder({ format }: JobRecord, { reading, there, volume }: Farm): string | null {
  const lending = there.filter(({ encodePlaces }) => encodePlaces > 0);
  if (lending.length === 0) return 'no machine that is there lends an encoder; start an agent on one';
  const able = lending.filter(({ lanes }) => lanes.some((lane) => canEncode(lane, format.picture.codec)));
  if (able.length === 0) return `no machine that is there has a proven lane for ${format.picture.codec}`;
  const reached = able.filter(({ id }) => reading.some((machine) => machine.id === id));
  if (reached.length === 0) {
    const names = able.map(({ name }) => name).join(', ');
    return `the machines that could encode it (${names}) do not read the volume ${volume}; mount it there`;
  }
  const busy = reached.every(({ busyPlaces, encodePlaces }) => busyPlaces >= encodePlaces);
  return busy ? 'every place that could encode it is taken by other work' : null;
}

function canEncode(lane: Machine['lanes'][number], codec: string): boolean {
  return lane.proven && lane.codec === codec;
}
