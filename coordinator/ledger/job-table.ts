// One row for each job: what lists show, kept in step with the events by being written in the same transaction.
import type { DatabaseSync } from 'node:sqlite';
import { z } from 'zod';
import { type JobState, type JobSummary, jobStates, jobSummarySchema, restingStates } from '#shared/job.ts';
import type { JobRecord } from '../state/job-record.ts';
import type { JobListQuery } from './job-book.ts';
import { summariseJob } from './job-summary.ts';
import { readCursor, writeCursor } from './page-cursor.ts';

export type JobTable = {
  /** Answers the job's number: jobs are numbered in the order in which they were received. */
  insert(record: JobRecord): number;
  update(record: JobRecord): void;
  numberOf(jobId: string): number | null;
  workingIds(): string[];
  list(query: JobListQuery): { items: JobSummary[]; nextCursor: string | null };
};

const workingStates = jobStates.filter((state: JobState) => !restingStates.includes(state));

export function createJobTable(database: DatabaseSync): JobTable {
  const insert = database.prepare('INSERT INTO jobs (id, batch_id, state, summary) VALUES (?, ?, ?, ?)');
  const update = database.prepare('UPDATE jobs SET state = ?, summary = ? WHERE id = ?');
  const numberOf = database.prepare('SELECT number FROM jobs WHERE id = ?');
  const inState = database.prepare('SELECT id FROM jobs WHERE state = ?');
  const page = database.prepare(`
    SELECT number, summary FROM jobs
    WHERE number < :before AND (:state IS NULL OR state = :state) AND (:batch IS NULL OR batch_id = :batch)
    ORDER BY number DESC LIMIT :limit`);
  return {
    insert(record) {
      const summary = JSON.stringify(summariseJob(record));
      return Number(insert.run(record.id, record.batchId, record.state, summary).lastInsertRowid);
    },
    update: (record) => void update.run(record.state, JSON.stringify(summariseJob(record)), record.id),
    numberOf(jobId) {
      const row = numberOf.get(jobId);
      return row === undefined ? null : z.object({ number: z.int() }).parse(row).number;
    },
    workingIds: () =>
      workingStates
        .flatMap((state) => z.array(z.object({ id: z.string() })).parse(inState.all(state)))
        .map(({ id }) => id),
    list({ state, batchId, limit, cursor }) {
      const before = cursor === undefined ? Number.MAX_SAFE_INTEGER : readCursor(cursor);
      // One more than asked for tells whether there is another page.
      const rows = page
        .all({ before, state: state ?? null, batch: batchId ?? null, limit: limit + 1 })
        .map(readRow);
      const shown = rows.slice(0, limit);
      const last = shown.at(-1);
      return {
        items: shown.map((row) => row.summary),
        nextCursor: rows.length > limit && last !== undefined ? writeCursor(last.number) : null,
      };
    },
  };
}

function readRow(row: unknown): { number: number; summary: JobSummary } {
  const { number, summary } = z.object({ number: z.int(), summary: z.string() }).parse(row);
  return { number, summary: jobSummarySchema.parse(JSON.parse(summary)) };
}
