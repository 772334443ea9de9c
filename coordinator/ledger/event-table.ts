// The events as rows: written once, never changed, checked by their schema whenever they are read.
import type { DatabaseSync } from 'node:sqlite';
import { z } from 'zod';
import { MillError } from '#shared/errors.ts';
import { type JobEvent, jobEventSchema } from '../state/job-events.ts';
import type { StoredEvent } from './job-book.ts';

export type EventTable = {
  /** Answers the event's number. */
  append(jobId: string, atMs: number, written: WrittenEvent): number;
  ofJob(jobId: string): StoredEvent[];
  /** At most `limit` events with numbers above `seq`, in order. */
  after(seq: number, limit: number): StoredEvent[];
  lastSeq(): number;
};

/** An event and its text. The event is what reading the text gives, so that live records and replayed ones agree. */
export type WrittenEvent<Event extends JobEvent = JobEvent> = {
  readonly event: Event;
  readonly text: string;
};

const rowSchema = z.object({ seq: z.int(), job_id: z.string(), at_ms: z.int(), data: z.string() });

export function createEventTable(database: DatabaseSync): EventTable {
  const insert = database.prepare('INSERT INTO events (job_id, at_ms, type, data) VALUES (?, ?, ?, ?)');
  const ofJob = database.prepare('SELECT seq, job_id, at_ms, data FROM events WHERE job_id = ? ORDER BY seq');
  const after = database.prepare(
    'SELECT seq, job_id, at_ms, data FROM events WHERE seq > ? ORDER BY seq LIMIT ?',
  );
  const last = database.prepare('SELECT coalesce(max(seq), 0) AS seq FROM events');
  return {
    append: (jobId, atMs, { event, text }) =>
      Number(insert.run(jobId, atMs, event.type, text).lastInsertRowid),
    ofJob: (jobId) => ofJob.all(jobId).map(readRow),
    after: (seq, limit) => after.all(seq, limit).map(readRow),
    lastSeq: () => z.object({ seq: z.int() }).parse(last.get()).seq,
  };
}

/** Throws MillError `internal` when the event doesn't fit its schema: it could never be read again. */
export function writeEvent<Event extends JobEvent>(event: Event): WrittenEvent<Event> {
  const text = JSON.stringify(event);
  return { event: readEvent(text, `the event ${event.type} was not written`) as Event, text };
}

function readRow(row: unknown): StoredEvent {
  const { seq, job_id: jobId, at_ms: atMs, data } = rowSchema.parse(row);
  return {
    seq,
    jobId,
    atMs,
    event: readEvent(data, `event ${seq} of job ${jobId} in the ledger can't be read`),
  };
}

function readEvent(text: string, what: string): JobEvent {
  try {
    return jobEventSchema.parse(JSON.parse(text));
  } catch (cause) {
    const why = cause instanceof z.ZodError ? z.prettifyError(cause) : String(cause);
    throw new MillError('internal', `${what}, because it does not fit its schema; please report this`, {
      details: { why },
      cause,
    });
  }
}
