// The whole truth about one job, as its events left it. Values only; `applyEvent` makes the next one.
import type { CheckResult } from '#shared/check.ts';
import type { MediaFacts } from '#shared/facts.ts';
import type { Failure } from '#shared/failure.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import type { Fallback, JobState, Submission } from '#shared/job.ts';
import type { Plan } from '#shared/plan.ts';
import type { FrameRange } from '#shared/schema-parts.ts';
import type { GrainReport, GranaryFile, SoundFile, TaskKind } from '#shared/task.ts';

/** One execution of one task by one agent. Numbers rise within a job and are never used again (N7). */
export type Attempt = {
  readonly number: number;
  readonly kind: TaskKind;
  readonly agentId: string;
  readonly machine: string;
  readonly lane: string | null;
  /** Encode only: the lease, `[first, end)`; `end` can move down. */
  readonly range: FrameRange | null;
  readonly state: 'open' | 'done' | 'failed' | 'lost' | 'stopped';
  readonly failure: Failure | null;
  readonly openedMs: number;
  readonly endedMs: number | null;
  /** Set by `retried` and `remade`: failures before it no longer weigh. */
  readonly forgiven: boolean;
};

export type StoredGrain = GrainReport & { readonly attempt: number };

export type JobRecord = {
  readonly id: string;
  readonly batchId: string | null;
  readonly submission: Submission;
  readonly format: HouseFormat;
  readonly deliverable: string;
  readonly receivedMs: number;
  readonly changedMs: number;
  readonly state: JobState;
  readonly facts: MediaFacts | null;
  readonly plan: Plan | null;
  readonly attempts: readonly Attempt[];
  readonly grains: ReadonlyMap<number, StoredGrain>;
  /** Fixed by the first grain that is stored; every other grain has to match (N3). */
  readonly signature: string | null;
  /** Fixed when the first encode attempt opens. */
  readonly stitchClass: string | null;
  /** One file for each sound track of the plan, in order; null until they are all there. */
  readonly sound: readonly SoundFile[] | null;
  readonly joined: GranaryFile | null;
  readonly checks: readonly CheckResult[];
  readonly delivered: GranaryFile | null;
  readonly fallback: Fallback;
  /** What the wrapper could not carry; goes into the report. */
  readonly dropped: readonly string[];
  /** Every failure so far, oldest first. */
  readonly failures: readonly Failure[];
};

export function openAttempts(record: JobRecord): readonly Attempt[] {
  return record.attempts.filter((attempt) => attempt.state === 'open');
}

export function findAttempt(record: JobRecord, number: number): Attempt | undefined {
  // Numbers run from 1 without gaps, so the list is its own index.
  return record.attempts[number - 1];
}
