// What a task may use of the world. Each task is one function `(task, context) => result`; everything with an
// effect comes through here, so that a task can be run by itself in a test.

import type { Lease, Progress } from '#shared/link.ts';
import type { GrainReport, GranaryFile } from '#shared/task.ts';

export type TaskContext = {
  /** Fires when the attempt no longer counts or the agent is stopping. */
  readonly signal: AbortSignal;
  /** A folder of this attempt's own, removed afterwards. */
  readonly scratch: string;
  readonly volumes: Volumes;
  readonly granary: Granary;
  readonly report: AttemptReport;
  readonly log: TaskLog;
};

/** This machine's view of the volumes. */
export type Volumes = {
  /**
   * Absolute path of an existing file. Throws MillError `unknown-volume`, `source-missing`, `source-not-a-file`,
   * `source-empty`, or `outside-volume` when a link leads out.
   */
  openSource(volumePath: string): Promise<string>;
  /** Absolute path for a file to be written; its folder is made. Throws MillError `outside-volume`, `destination-unwritable`. */
  destination(volumePath: string): Promise<string>;
};

/** The coordinator's folder of finished pieces: reached as a folder where that is proven, over HTTP elsewhere. */
export type Granary = {
  /** Local path of a stored file; size is compared, hash is the caller's business. */
  open(file: GranaryFile): Promise<string>;
  /** Hands a finished local file over: hashes it, moves or uploads it, and tells its name there. */
  store(localPath: string, name: string): Promise<GranaryFile>;
};

/** Messages to the coordinator about this attempt. They are retried until answered; a stale attempt's lease says stop. */
export type AttemptReport = {
  progress(progress: Progress): Promise<Lease>;
  grain(grain: GrainReport): Promise<Lease>;
};

export type TaskLog = {
  info(fields: object, message: string): void;
  warn(fields: object, message: string): void;
};
