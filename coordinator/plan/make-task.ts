// An attempt as the task that the agent gets. Made from the record alone, so that a lost queue entry can be made again.
import { assertNever, MillError } from '#shared/errors.ts';
import type { MediaFacts } from '#shared/facts.ts';
import { grainCount, grainRange, type Plan } from '#shared/plan.ts';
import type { CheckTask, GranaryFile, JoinTask, SoundTask, Source, Task } from '#shared/task.ts';
import type { Attempt, JobRecord, StoredGrain } from '../state/job-record.ts';
import { seekSeconds } from './seek-point.ts';

/** `report`: text of the report file that a deliver task writes beside the deliverable; null for none. */
export function makeTask(record: JobRecord, attempt: Attempt, report: string | null): Task {
  const ref = { jobId: record.id, attempt: attempt.number };
  switch (attempt.kind) {
    case 'inspect':
      return { ...ref, kind: 'inspect', path: record.submission.source };
    case 'encode':
      return encodeTask(record, attempt, planned(record));
    case 'sound':
      return { ...ref, ...soundWork(record) };
    case 'join':
      return { ...ref, ...joinWork(record) };
    case 'check':
      return { ...ref, ...checkWork(record) };
    case 'deliver': {
      const { deliverable: to, submission } = record;
      return { ...ref, kind: 'deliver', joined: joinedOf(record), to, replace: submission.replace, report };
    }
    default:
      return assertNever(attempt.kind);
  }
}

type Work<T extends Task> = Omit<T, 'jobId' | 'attempt'>;

function soundWork(record: JobRecord): Work<SoundTask> {
  const { facts, plan } = planned(record);
  const { wrapper } = record.format;
  return {
    kind: 'sound',
    source: sourceOf(record, facts),
    track: trackOf(facts),
    tracks: plan.sound,
    wrapper,
  };
}

function joinWork(record: JobRecord): Work<JoinTask> {
  const { facts, plan } = planned(record);
  const grains = allGrains(record, plan).map(({ file, bytes, hash, frames }) => ({
    file,
    bytes,
    hash,
    frames,
  }));
  const sound = [...(record.sound ?? [])];
  return { kind: 'join', source: sourceOf(record, facts), facts, format: record.format, plan, grains, sound };
}

function checkWork(record: JobRecord): Work<CheckTask> {
  const { facts, plan } = planned(record);
  const grains = allGrains(record, plan).map(({ index, attempt, firstPicture, nextPicture }) => ({
    ...grainRange(plan, index),
    attempt,
    firstPicture,
    nextPicture,
  }));
  const joined = joinedOf(record);
  return {
    kind: 'check',
    source: sourceOf(record, facts),
    facts,
    format: record.format,
    plan,
    joined,
    grains,
  };
}

function encodeTask(
  record: JobRecord,
  attempt: Attempt,
  { facts, plan }: { facts: MediaFacts; plan: Plan },
): Task {
  if (attempt.range === null || attempt.lane === null)
    throw new MillError('internal', `encode attempt ${attempt.number} has no lease`);
  return {
    jobId: record.id,
    attempt: attempt.number,
    kind: 'encode',
    lane: attempt.lane,
    source: sourceOf(record, facts),
    track: trackOf(facts),
    way: plan.picture,
    format: record.format,
    rate: plan.rate,
    totalFrames: plan.frames,
    grainFrames: plan.grainFrames,
    gopFrames: plan.gopFrames,
    range: attempt.range,
    seekSeconds: seekSeconds(facts, plan, attempt.range.first),
  };
}

function sourceOf(record: JobRecord, facts: MediaFacts): Source {
  const { bytes, modifiedMs, demuxer, containerStartSeconds } = facts;
  return { path: record.submission.source, bytes, modifiedMs, demuxer, containerStartSeconds };
}

function trackOf(facts: MediaFacts) {
  const { keyframes: _, ...track } = facts.picture;
  return track;
}

function allGrains(record: JobRecord, plan: Plan): StoredGrain[] {
  return Array.from({ length: grainCount(plan) }, (_, index) => {
    const grain = record.grains.get(index);
    if (grain === undefined) throw new MillError('internal', `grain ${index} of ${record.id} is not stored`);
    return grain;
  });
}

function joinedOf(record: JobRecord): GranaryFile {
  if (record.joined === null) throw new MillError('internal', `${record.id} is not joined`);
  return record.joined;
}

function planned(record: JobRecord): { facts: MediaFacts; plan: Plan } {
  if (record.facts === null || record.plan === null)
    throw new MillError('internal', `${record.id} has no plan`);
  return { facts: record.facts, plan: record.plan };
}
