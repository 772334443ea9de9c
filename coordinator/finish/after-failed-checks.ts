// What a failed check means: what it points at is made again once (grains, the sound, the join); then, if the pictures
// still fail, the whole film on one lane; then a person has to look. A failed check never delivers.
import type { CheckName, CheckResult } from '#shared/check.ts';
import type { Failure } from '#shared/failure.ts';
import { grainCount } from '#shared/plan.ts';
import type { JobEvent } from '../state/job-events.ts';
import type { JobRecord } from '../state/job-record.ts';

/** Where the fault of a check lies. Making pictures again mends no sound. */
const madeBy: Record<CheckName, 'pictures' | 'sound' | 'join'> = {
  'frame-count': 'pictures',
  time: 'pictures',
  seams: 'pictures',
  likeness: 'pictures',
  'one-kind': 'pictures',
  decodes: 'pictures',
  'sound-length': 'sound',
  'sound-layout': 'sound',
  'sound-offset': 'sound',
  loudness: 'sound',
  labels: 'join',
  bytes: 'join',
};

export function afterFailedChecks(record: JobRecord): JobEvent | null {
  const failed = record.checks.filter((check) => !check.ok);
  if (failed.length === 0) return null;
  const reason = failureOf(failed);
  const pictures = failed.filter((check) => madeBy[check.name] === 'pictures');
  const sound = failed.some((check) => madeBy[check.name] === 'sound');
  const first = record.fallback === 'none';
  if (pictures.length === 0) {
    return first ? { type: 'remade', grains: [], sound, fallback: 'join', reason } : { type: 'held', reason };
  }
  const grains = faultyGrains(record, pictures);
  if (first && grains.length > 0) return { type: 'remade', grains, sound, fallback: 'grains', reason };
  if (record.fallback !== 'whole')
    return { type: 'remade', grains: null, sound: true, fallback: 'whole', reason };
  return { type: 'held', reason };
}

/** Grains that hold the frames at which checks failed; empty when they are most of the film or none is named. */
function faultyGrains(record: JobRecord, failed: readonly CheckResult[]): number[] {
  const { plan } = record;
  if (plan === null || failed.some((check) => check.frames.length === 0)) return [];
  const grains = new Set(
    failed.flatMap((check) => check.frames.map((frame) => Math.floor(frame / plan.grainFrames))),
  );
  const inside = [...grains].filter((index) => index < grainCount(plan)).toSorted((a, b) => a - b);
  return inside.length * 2 > grainCount(plan) ? [] : inside;
}

function failureOf(failed: readonly CheckResult[]): Failure {
  const told = failed.map((check) => `${check.name}: measured ${check.measured}, required ${check.limit}`);
  return {
    code: 'check-failed',
    message: `the joined file did not pass ${failed.length === 1 ? 'a check' : `${failed.length} checks`}: ${told.join('; ')}`,
    stage: 'check',
    details: { checks: failed.map((check) => check.name) },
  };
}
