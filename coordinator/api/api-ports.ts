// What the HTTP room needs from the other rooms; wired in main.ts. Handlers parse, call one of these, and answer.
import type { HouseFormat } from '#shared/house-format.ts';
import type { Machine, Submission } from '#shared/job.ts';
import type {
  Heartbeat,
  HeartbeatReply,
  Lease,
  Progress,
  Registration,
  RegistrationReply,
} from '#shared/link.ts';
import type { AttemptOutcome, GrainReport, GranaryFile } from '#shared/task.ts';
import type { JobBook } from '../ledger/job-book.ts';
import type { JobRecord } from '../state/job-record.ts';

export type Intake = {
  /** Checks, names and records one submission. Throws MillError; durable when it returns. */
  submit(submission: Submission, batchId: string | null, key: IdempotencyKey | null): Promise<JobRecord>;
};

/** `fingerprint`: hash of the request body; the same key with another one is refused (`key-reused`). */
export type IdempotencyKey = { readonly key: string; readonly fingerprint: string };

export type Control = {
  /** Throws MillError `not-found` or `wrong-state`. */
  cancel(jobId: string): JobRecord;
  retry(jobId: string): JobRecord;
};

export type Farm = {
  machines(): readonly Machine[];
  /** Live progress of a job's open attempts, by attempt number. */
  progressOf(jobId: string): ReadonlyMap<number, Progress>;
  onProgress(listener: (jobId: string, attempt: number, progress: Progress) => void): () => void;
  /** Null when jobs can be taken, else why not. */
  notReady(): string | null;
};

/** The coordinator's end of the agents' link. Throws MillError `not-found` (unknown agent) and `stale-attempt`. */
export type AgentLink = {
  /** `host` is how the agent reached us; the Redis address in the reply uses it. */
  register(registration: Registration, host: string): RegistrationReply;
  heartbeat(agentId: string, heartbeat: Heartbeat): HeartbeatReply;
  leave(agentId: string): void;
  progress(jobId: string, attempt: number, progress: Progress): Lease;
  grain(jobId: string, attempt: number, grain: GrainReport): Promise<Lease>;
  outcome(jobId: string, attempt: number, outcome: AttemptOutcome): Promise<void>;
  receiveFile(upload: Upload): Promise<GranaryFile>;
  /** Absolute path of a granary file for reading; throws `not-found`. */
  granaryPath(file: string): Promise<string>;
};

export type Upload = {
  readonly jobId: string;
  readonly attempt: number;
  readonly name: string;
  readonly bytes: number;
  readonly xxh128: string;
  readonly body: ReadableStream<Uint8Array>;
};

export type ApiPorts = {
  readonly book: JobBook;
  readonly intake: Intake;
  readonly control: Control;
  readonly farm: Farm;
  readonly link: AgentLink;
  readonly formats: readonly HouseFormat[];
  readonly volumes: Readonly<Record<string, string>>;
  /** Milliseconds since the epoch. */
  readonly clock: () => number;
  /** Bearer token that every request must carry; null on loopback without one. */
  readonly token: string | null;
  readonly version: string;
  /** Told of every fault that nobody foresaw, with the request in which it showed; the client learns nothing of it. */
  readonly reportFault: (error: unknown, where: string) => void;
};
