// Taking a finished grain: it counts once, only from the attempt that holds its lease, and only when it is of the
// same kind as its neighbours (N3, N7).
import { grainCount, grainRange } from '#shared/plan.ts';
import type { GrainReport } from '#shared/task.ts';
import type { Applied } from './applied.ts';
import { findAttempt, type JobRecord } from './job-record.ts';

export function applyGrain(record: JobRecord, attemptNumber: number, grain: GrainReport): Applied {
  const refused = grainProblem(record, attemptNumber, grain);
  if (refused !== null) return { refused };
  const grains = new Map(record.grains).set(grain.index, { ...grain, attempt: attemptNumber });
  return { record: { ...record, grains, signature: record.signature ?? grain.signature } };
}

function grainProblem(record: JobRecord, attemptNumber: number, grain: GrainReport): string | null {
  const attempt = findAttempt(record, attemptNumber);
  if (attempt?.state !== 'open' || attempt.kind !== 'encode')
    return `attempt ${attemptNumber} no longer counts`;
  if (record.plan === null || attempt.range === null) return 'there is no plan';
  if (grain.index >= grainCount(record.plan)) return `the film has no grain ${grain.index}`;
  const range = grainRange(record.plan, grain.index);
  if (range.first < attempt.range.first || range.end > attempt.range.end)
    return `grain ${grain.index} is outside the lease`;
  if (grain.frames !== range.end - range.first) {
    return `grain ${grain.index} has ${grain.frames} frames, ${range.end - range.first} are due`;
  }
  if (record.grains.has(grain.index)) return `grain ${grain.index} is stored already`;
  if (record.signature !== null && record.signature !== grain.signature) {
    return `grain ${grain.index} is of another kind than the grains before it`;
  }
  return null;
}
