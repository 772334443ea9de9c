// The book of jobs: the ledger's events, replayed into records. Every change of a job goes through `record`, which
// asks the state room, writes the event durably and only then shows the new record to anyone.
import type { MediaFacts } from '#shared/facts.ts';
import type { JobState, JobSummary } from '#shared/job.ts';
import type { JobEvent } from '../state/job-events.ts';
import type { JobRecord } from '../state/job-record.ts';

export type StoredEvent = {
  /** Rises over all jobs; the id of server-sent events. */
  readonly seq: number;
  readonly jobId: string;
  readonly atMs: number;
  readonly event: JobEvent;
};

export type Recorded = { readonly record: JobRecord; readonly seq: number } | { readonly refused: string };

export type JobListQuery = {
  readonly state?: JobState;
  readonly batchId?: string;
  /** 1–200. */
  readonly limit: number;
  readonly cursor?: string;
};

export type NewJob = {
  readonly id: string;
  readonly event: Extract<JobEvent, { type: 'received' }>;
  /** Kept with the job in one transaction: the same key never makes a second job. */
  readonly key: { readonly key: string; readonly fingerprint: string } | null;
};

export type JobBook = {
  /** Writes a new job durably. Throws MillError `key-reused` when the key belongs to another request. */
  begin(job: NewJob): JobRecord;
  /** The job that an idempotency key made, if any. */
  findByKey(key: string): { readonly jobId: string; readonly fingerprint: string } | null;
  /** Applies and writes one event; `refused` when it doesn't fit the record. Throws MillError `not-found`. */
  record(jobId: string, event: JobEvent): Recorded;
  /** Any job, working or resting. */
  get(jobId: string): JobRecord | null;
  /** Jobs on which something is to be done, highest priority first, then oldest. */
  working(): readonly JobRecord[];
  /** Newest first, by pages. Throws MillError `bad-request` for a cursor that no list gave out. */
  list(query: JobListQuery): { readonly items: readonly JobSummary[]; readonly nextCursor: string | null };
  events(afterSeq: number, limit: number): readonly StoredEvent[];
  lastSeq(): number;
  onEvent(listener: (stored: StoredEvent, record: JobRecord) => void): () => void;
  /** Facts of an earlier inspection of the same file: same volume path, size and modification time. */
  knownFacts(source: string, bytes: number, modifiedMs: number): MediaFacts | null;
};
