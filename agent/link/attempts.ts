// The attempts that run on this machine: each gets a place, a scratch folder and a signal, and ends with exactly one
// outcome told to the coordinator, unless it no longer counts or the agent is stopping: then it ends without a word.
import { z } from 'zod';
import { MillError } from '#shared/errors.ts';
import { type Failure, toFailure } from '#shared/failure.ts';
import type { AttemptRef, Lease, Progress } from '#shared/link.ts';
import { attemptNumberSchema, jobIdSchema } from '#shared/schema-parts.ts';
import {
  type AttemptOutcome,
  type GrainReport,
  type GranaryFile,
  type Task,
  type TaskResult,
  taskSchema,
} from '#shared/task.ts';
import type { AgentLog } from '../tools/logger.ts';
import { makeScratch } from '../tools/scratch.ts';
import { type Answered, isStale, untilAnswered } from './answer.ts';
import { openReport, pathOf } from './attempt-report.ts';
import { post } from './coordinator-client.ts';
import { openGranary } from './granary.ts';
import type { Coordinator } from './http-request.ts';
import { createPlaces } from './places.ts';

/** What a running task is given of the link. */
export type AttemptTools = {
  readonly signal: AbortSignal;
  readonly scratch: string;
  readonly granary: {
    open(file: GranaryFile): Promise<string>;
    store(localPath: string, name: string): Promise<GranaryFile>;
  };
  readonly report: {
    progress(progress: Progress): Promise<Lease>;
    grain(grain: GrainReport): Promise<Lease>;
  };
  readonly log: AgentLog;
};

export type AttemptsParts = {
  readonly coordinator: Coordinator;
  readonly execute: (task: Task, tools: AttemptTools) => Promise<TaskResult>;
  readonly encodePlaces: number;
  readonly deskPlaces: number;
  readonly scratchRoot: string;
  readonly granaryFolder: () => string | null;
  readonly machine: string;
  readonly log: AgentLog;
};

export type Attempts = {
  /** Runs one queue entry to its end. Rejects only when it wasn't finished here: the queue then knows it as failed. */
  run(entry: unknown): Promise<void>;
  running(): AttemptRef[];
  /** Ends the named attempts; those that don't run here are left alone. */
  stop(refs: readonly AttemptRef[]): void;
  /** Ends all, for good; resolves when the last has cleaned up. */
  close(): Promise<void>;
};

type Running = { readonly ref: AttemptRef; readonly end: AbortController; readonly finished: Promise<void> };

export function createAttempts(parts: AttemptsParts): Attempts {
  const table = new Map<string, Running>();
  const places = { encode: createPlaces(parts.encodePlaces), desk: createPlaces(parts.deskPlaces) };
  let closing = false;

  return {
    async run(entry) {
      if (closing) throw stopping();
      const checked = taskSchema.safeParse(entry);
      if (!checked.success) throw await refuseEntry(parts, entry, checked.error);
      const task = checked.data;
      const key = keyOf(task);
      // The queue hands an entry over again when it lost sight of it; the attempt itself goes on.
      const twin = table.get(key);
      if (twin) return twin.finished;
      const end = new AbortController();
      const ref = { jobId: task.jobId, attempt: task.attempt };
      const finished = runAttempt(parts, {
        task,
        ref,
        end,
        places: task.kind === 'encode' ? places.encode : places.desk,
      });
      table.set(key, { ref, end, finished });
      try {
        await finished;
      } finally {
        table.delete(key);
      }
    },
    running: () => [...table.values()].map(({ ref }) => ref),
    stop(refs) {
      for (const ref of refs) table.get(keyOf(ref))?.end.abort(stale('the coordinator asked for its end'));
    },
    async close() {
      closing = true;
      for (const { end } of table.values()) end.abort(stopping());
      await Promise.allSettled([...table.values()].map(({ finished }) => finished));
    },
  };
}

type AttemptRun = {
  readonly task: Task;
  readonly ref: AttemptRef;
  readonly end: AbortController;
  readonly places: ReturnType<typeof createPlaces>;
};

async function runAttempt(parts: AttemptsParts, run: AttemptRun): Promise<void> {
  const { task, ref, end } = run;
  const log = parts.log.child({ ...ref, kind: task.kind });
  const startedMs = performance.now();
  log.info({}, 'task taken');
  const outcome = await outcomeOf(parts, run, log);
  const seconds = Math.round(performance.now() - startedMs) / 1000;
  try {
    end.signal.throwIfAborted();
    if (outcome.ok) log.info({ seconds }, 'task done');
    else log.warn({ seconds, failure: outcome.failure }, 'task failed');
    await tellOutcome({ parts, ref, outcome, signal: end.signal, log });
  } catch (error) {
    if (!end.signal.aborted) throw error;
    log.info({ seconds, reason: error instanceof Error ? error.message : String(error) }, 'task ended early');
    if (isStopping(error)) throw error;
  }
}

/** The scratch folder is gone again when this returns, whatever happened. Never rejects. */
async function outcomeOf(
  parts: AttemptsParts,
  { task, ref, end, places }: AttemptRun,
  log: AgentLog,
): Promise<AttemptOutcome> {
  const { coordinator, granaryFolder: folder } = parts;
  const { signal } = end;
  const onStale = (reason: string) => end.abort(stale(reason));
  try {
    using _place = await places.take(signal);
    await using scratch = await makeScratch(parts.scratchRoot, `${ref.jobId}-a${ref.attempt}`);
    const result = await parts.execute(task, {
      signal,
      scratch: scratch.path,
      granary: openGranary({ coordinator, ...ref, folder, scratch: scratch.path, signal, onStale, log }),
      report: openReport({ coordinator, ref, signal, onStale, log }),
      log,
    });
    return { ok: true, result };
  } catch (error) {
    return { ok: false, failure: toFailure(error, task.kind, parts.machine) };
  }
}

type Telling = {
  readonly parts: Pick<AttemptsParts, 'coordinator' | 'machine'>;
  readonly ref: AttemptRef;
  readonly outcome: AttemptOutcome;
  readonly signal: AbortSignal;
  readonly log: AgentLog;
};

async function tellOutcome(telling: Telling): Promise<void> {
  const answer = await sendOutcome(telling);
  if (answer.kind === 'ok') return;
  if (isStale(answer)) {
    telling.log.info({ reason: answer.reason }, 'the outcome no longer counts');
    return;
  }
  // The coordinator can't read the outcome. It must not wait for it for ever: say that instead, once.
  telling.log.error({ reason: answer.reason }, 'the coordinator did not take the outcome');
  const message = `the coordinator did not take the outcome: ${answer.reason}; please report this`;
  const failure: Failure = {
    code: 'internal',
    message,
    stage: 'outcome',
    machine: telling.parts.machine,
    details: {},
  };
  await sendOutcome({ ...telling, outcome: { ok: false, failure } });
}

function sendOutcome({ parts, ref, outcome, signal, log }: Telling): Promise<Answered<unknown>> {
  return untilAnswered(
    () =>
      post(parts.coordinator, { path: pathOf(ref, 'outcome'), body: outcome, reply: z.unknown(), signal }),
    { signal, onSilence: (reason) => log.warn({ reason }, 'no answer to the outcome, trying on') },
  );
}

/** An entry that is no task is told as a failure when at least its attempt can be read. */
async function refuseEntry(
  parts: AttemptsParts,
  entry: unknown,
  { issues: [issue] }: z.ZodError,
): Promise<MillError> {
  const fault = new MillError(
    'internal',
    `the task is of another version (${issue?.path.join('.')}: ${issue?.message}); run the same version on all machines`,
  );
  const ref = z.object({ jobId: jobIdSchema, attempt: attemptNumberSchema }).safeParse(entry);
  if (ref.success) {
    const log = parts.log.child({ ...ref.data });
    log.error({ reason: fault.message }, 'cannot read the task');
    const outcome: AttemptOutcome = { ok: false, failure: toFailure(fault, 'read-task', parts.machine) };
    await tellOutcome({ parts, ref: ref.data, outcome, signal: AbortSignal.timeout(60_000), log });
  }
  return fault;
}

function keyOf({ jobId, attempt }: AttemptRef): string {
  return `${jobId}/${attempt}`;
}

function stale(reason: string): MillError {
  return new MillError('stale-attempt', reason);
}

function stopping(): MillError {
  return new MillError('agent-lost', 'the agent is stopping');
}

function isStopping(reason: unknown): boolean {
  return reason instanceof MillError && reason.code === 'agent-lost';
}
