// The book of jobs on SQLite. Writing one event: ask the state room, commit, then change memory, then tell listeners.
import type { DatabaseSync } from 'node:sqlite';
import { MillError } from '#shared/errors.ts';
import type { MediaFacts } from '#shared/facts.ts';
import { jobIdSchema } from '#shared/schema-parts.ts';
import { applyEvent, beginRecord } from '../state/apply-event.ts';
import type { JobEvent } from '../state/job-events.ts';
import type { JobRecord } from '../state/job-record.ts';
import { createEventFeed, type EventFeed, type EventListener } from './event-feed.ts';
import { createEventTable, type EventTable, writeEvent } from './event-table.ts';
import { createFactsTable, type FactsTable } from './facts-table.ts';
import type { JobBook, JobListQuery, NewJob, Recorded, StoredEvent } from './job-book.ts';
import { createJobTable, type JobTable } from './job-table.ts';
import { createKeyTable, type KeyTable } from './key-table.ts';
import { createRecordShelf, type RecordShelf, type Shelved } from './record-shelf.ts';
import { replayJob } from './replay-job.ts';
import { inTransaction } from './transaction.ts';

export type JobBookOptions = {
  /** Milliseconds since the epoch. */
  readonly clock: () => number;
  /** Told what a listener throws. */
  readonly reportFault: (error: unknown) => void;
};

export class SqliteJobBook implements JobBook {
  readonly #database: DatabaseSync;
  readonly #clock: () => number;
  readonly #events: EventTable;
  readonly #jobs: JobTable;
  readonly #keys: KeyTable;
  readonly #facts: FactsTable;
  readonly #shelf: RecordShelf = createRecordShelf();
  readonly #feed: EventFeed;
  readonly #afterClose: () => void;

  /** Replays the working jobs. Throws MillError `internal` for a job whose events can't be read. */
  constructor(database: DatabaseSync, { clock, reportFault }: JobBookOptions, afterClose: () => void) {
    this.#database = database;
    this.#afterClose = afterClose;
    this.#clock = clock;
    this.#events = createEventTable(database);
    this.#jobs = createJobTable(database);
    this.#keys = createKeyTable(database);
    this.#facts = createFactsTable(database);
    this.#feed = createEventFeed(reportFault);
    for (const id of this.#jobs.workingIds()) this.#find(id);
  }

  begin({ id, event, key }: NewJob): JobRecord {
    const earlier = key === null ? null : this.#earlierJob(key);
    if (earlier !== null) return earlier;
    const written = writeEvent(event);
    const atMs = this.#nowMs();
    const record = beginRecord(jobIdSchema.parse(id), written.event, atMs);
    const { number, seq } = inTransaction(this.#database, () => {
      const given = this.#jobs.insert(record);
      if (key !== null) this.#keys.insert(key.key, key.fingerprint, id);
      return { number: given, seq: this.#events.append(id, atMs, written) };
    });
    this.#publish({ number, record }, { seq, jobId: id, atMs, event: written.event });
    return record;
  }

  record(jobId: string, event: JobEvent): Recorded {
    const entry = this.#find(jobId);
    if (entry === null) throw new MillError('not-found', `there is no job ${jobId}`);
    const written = writeEvent(event);
    const atMs = this.#nowMs();
    const applied = applyEvent(entry.record, written.event, atMs);
    if ('refused' in applied) return applied;
    const { record } = applied;
    const seq = inTransaction(this.#database, () => {
      this.#jobs.update(record);
      this.#keepFacts(record, written.event);
      return this.#events.append(jobId, atMs, written);
    });
    this.#publish({ number: entry.number, record }, { seq, jobId, atMs, event: written.event });
    return { record, seq };
  }

  findByKey(key: string): { readonly jobId: string; readonly fingerprint: string } | null {
    return this.#keys.find(key);
  }

  get(jobId: string): JobRecord | null {
    return this.#find(jobId)?.record ?? null;
  }

  working(): readonly JobRecord[] {
    return this.#shelf.working();
  }

  list(query: JobListQuery): ReturnType<JobBook['list']> {
    return this.#jobs.list(query);
  }

  events(afterSeq: number, limit: number): readonly StoredEvent[] {
    return this.#events.after(afterSeq, limit);
  }

  lastSeq(): number {
    return this.#events.lastSeq();
  }

  onEvent(listener: EventListener): () => void {
    return this.#feed.listen(listener);
  }

  knownFacts(source: string, bytes: number, modifiedMs: number): MediaFacts | null {
    return this.#facts.find(source, bytes, modifiedMs);
  }

  close(): void {
    this.#database.close();
    this.#afterClose();
  }

  #earlierJob({ key, fingerprint }: NonNullable<NewJob['key']>): JobRecord | null {
    const found = this.#keys.find(key);
    if (found === null) return null;
    if (found.fingerprint === fingerprint) return this.get(found.jobId);
    throw new MillError(
      'key-reused',
      `Idempotency-Key ${JSON.stringify(key)} belongs to another request; use a new key`,
    );
  }

  #find(jobId: string): Shelved | null {
    const shelved = this.#shelf.get(jobId);
    if (shelved !== undefined) return shelved;
    const number = this.#jobs.numberOf(jobId);
    if (number === null) return null;
    const entry = { number, record: replayJob(jobId, this.#events.ofJob(jobId)) };
    this.#shelf.put(entry);
    return entry;
  }

  #publish(entry: Shelved, stored: StoredEvent): void {
    this.#shelf.put(entry);
    this.#feed.publish(stored, entry.record);
  }

  #keepFacts({ submission }: JobRecord, event: JobEvent): void {
    if (event.type !== 'ended' || !event.outcome.ok || event.outcome.result.kind !== 'inspect') return;
    this.#facts.put(submission.source, event.outcome.result.facts);
  }

  #nowMs(): number {
    return Math.floor(this.#clock());
  }
}
