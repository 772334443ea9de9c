// An attempt as the task that the agent gets. Made from the record alone, so that a lost queue entry can be made again.
import { assertNever, MillError } from '#shared/errors.ts';
import type { MediaFacts } from '#shared/facts.ts';
import { grainCount, grainRange, type Plan } from '#shared/plan.ts';
import type { GranaryFile, Source, Task } from '#shared/task.ts';
import type { Attempt, JobRecord, StoredGrain } from '../state/job-record.ts';
import { seekSeconds } from './seek-point.ts';

/** `report`: text of the report file that a deliver task writes beside the deliverable; null for none. */
export function makeTask(record: JobRecord, attempt: Attempt, report: string | null): Task {
  const common = { jobId: record.id, attempt: attempt.number };
  if (attempt.kind === 'inspect') return { ...common, kind: 'inspect', path: record.submission.source };
  const { facts, plan } = planned(record);
  const source = sourceOf(record, facts);
  switch (attempt.kind) {
    case 'encode':
      return encodeTask(record, attempt, { facts, plan });
    case 'sound':
      return { ...common, kind: 'sound', source, track: trackOf(facts), tracks: [...plan.sound], wrapper: record.format.wrapper };
    case 'join': {
      const grains = allGrains(record, plan).map(({ file, bytes, hash, frames }) => ({ file, bytes, hash, frames }));
      return { ...common, kind: 'join', source, facts, format: record.format, plan, grains, sound: [...(record.sound ?? [])] };
    }
    case 'check': {
      const grains = allGrains(record, plan).map((grain) => ({
        ...grainRange(plan, grain.index),
        attempt: grain.attempt,
        firstPicture: grain.firstPicture,
        nextPicture: grain.nextPicture,
      }));
      return { ...common, kind: 'check', source, facts, format: record.format, plan, joined: joinedOf(record), grains };
    }
    case 'deliver':
      return { ...common, kind: 'deliver', joined: joinedOf(record), to: record.deliverable, replace: record.submission.replace, report };
    default:
      return assertNever(attempt.kind);
  }
}

function encodeTask(record: JobRecord, attempt: Attempt, { facts, plan }: { facts: MediaFacts; plan: Plan }): Task {
  if (attempt.range === null || attempt.lane === null) throw new MillError('internal', `encode attempt ${attempt.number} has no lease`);
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
  if (record.facts === null || record.plan === null) throw new MillError('internal', `${record.id} has no plan`);
  return { facts: record.facts, plan: record.plan };
}
