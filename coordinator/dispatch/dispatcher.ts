// Puts decisions into effect: settles what follows from each record, opens attempts where placing says, and hands them
// to the queue. One round at a time; a round that is asked for while one runs follows it.

import type { Logger } from 'pino';
import { toFailure } from '#shared/failure.ts';
import { type FollowUpOptions, followUp } from '../finish/follow-up.ts';
import type { JobBook } from '../ledger/job-book.ts';
import { placeDesk } from '../place/place-desk.ts';
import { placeSegments } from '../place/place-segments.ts';
import { makeTask } from '../plan/make-task.ts';
import { dueWork } from '../state/due-work.ts';
import type { JobEvent } from '../state/job-events.ts';
import { findAttempt, type JobRecord, openAttempts } from '../state/job-record.ts';
import { laneProblem } from './codecs-on-farm.ts';
import { isRunning, type Machines } from './machines.ts';
import { deskMachines, deskNeed, encodePlaces, encodeWork, loadOf } from './open-work.ts';
import type { Queues } from './queues.ts';

export type DispatcherParts = {
  readonly book: JobBook;
  readonly machines: Machines;
  readonly queues: Queues;
  readonly options: FollowUpOptions;
  /** Why the job can't begin for want of space, or null. */
  readonly spaceProblem: (record: JobRecord) => Promise<JobEvent | null>;
  /** Text of the report file beside the deliverable; null when the format wants none. */
  readonly reportText: (record: JobRecord) => string | null;
  readonly clock: () => number;
  readonly log: Logger;
};

/** An entry that its machine doesn't run after this time is put into the queue again. */
const resendAfterMs = 5_000;

/** A job that no machine can encode is held after this time. */
const holdLanelessAfterMs = 60_000;

export class Dispatcher {
  readonly #parts: DispatcherParts;
  readonly #sentMs = new Map<string, number>();
  /** Since when no machine that is there has had a lane for a job. */
  readonly #lanelessMs = new Map<string, number>();
  #wanted = false;
  #round: Promise<void> | null = null;

  constructor(parts: DispatcherParts) {
    this.#parts = parts;
  }

  /** Asks for a round soon; never throws. */
  wake(): void {
    this.#wanted = true;
    this.#round ??= this.#run().finally(() => {
      this.#round = null;
      if (this.#wanted) this.wake();
    });
  }

  /** Resolves when no round is running. */
  async idle(): Promise<void> {
    while (this.#round !== null) await this.#round;
  }

  async #run(): Promise<void> {
    this.#wanted = false;
    try {
      for (const record of this.#parts.book.working()) this.#settle(record);
      await this.#placeDesks();
      await this.#placeEncoders();
      await this.#send();
    } catch (error) {
      // A round that fails is tried again by the next tick; nothing is lost, the ledger knows what is due.
      this.#parts.log.error({ failure: toFailure(error, 'dispatch') }, 'a dispatch round failed');
    }
  }

  #settle(record: JobRecord): void {
    let current = record;
    for (
      let event = followUp(current, this.#parts.options);
      event !== null;
      event = followUp(current, this.#parts.options)
    ) {
      const recorded = this.#parts.book.record(current.id, event);
      if ('refused' in recorded)
        throw new Error(`${event.type} was refused for ${current.id}: ${recorded.refused}`);
      current = recorded.record;
    }
  }

  async #placeDesks(): Promise<void> {
    const { book, machines } = this.#parts;
    for (const record of book.working()) {
      for (const kind of dueWork(record).desk) {
        const agentId = placeDesk(
          deskMachines(machines.ready(), loadOf(book.working())),
          deskNeed(record, kind),
        );
        if (agentId !== null)
          this.#open(record.id, { kind, agentId, lane: null, stitchClass: null, range: null });
      }
    }
  }

  async #placeEncoders(): Promise<void> {
    const { book, machines } = this.#parts;
    for (const record of book.working()) {
      if (record.state !== 'inspected' || record.plan === null) continue;
      const problem = this.#lastingLaneProblem(record) ?? (await this.#parts.spaceProblem(record));
      if (problem !== null) book.record(record.id, problem);
    }
    const records = book.working();
    const ready = machines.ready();
    for (const { jobId, ...decision } of placeSegments(
      encodePlaces(ready, loadOf(records)),
      encodeWork(records, ready),
    )) {
      const { agentId, laneId, stitchClass, range } = decision;
      this.#open(jobId, { kind: 'encode', agentId, lane: laneId, stitchClass, range });
    }
  }

  /** Machines come and go, so a want of lanes counts only when it lasts. */
  #lastingLaneProblem(record: JobRecord): JobEvent | null {
    const { machines, clock } = this.#parts;
    const problem = laneProblem(record.format.picture.codec, machines.ready());
    if (problem === null) {
      this.#lanelessMs.delete(record.id);
      return null;
    }
    const sinceMs = this.#lanelessMs.get(record.id) ?? clock();
    this.#lanelessMs.set(record.id, sinceMs);
    return clock() - sinceMs >= holdLanelessAfterMs ? problem : null;
  }

  #open(
    jobId: string,
    opening: Omit<Extract<JobEvent, { type: 'opened' }>, 'type' | 'attempt' | 'machine'>,
  ): void {
    const { book, machines, log } = this.#parts;
    const attempt = (book.get(jobId)?.attempts.length ?? 0) + 1;
    const machine = machines.get(opening.agentId)?.registration.name ?? opening.agentId;
    const recorded = book.record(jobId, { type: 'opened', attempt, machine, ...opening });
    if ('refused' in recorded)
      log.warn({ jobId, attempt, refused: recorded.refused }, 'an attempt could not be opened');
    else log.info({ jobId, attempt, kind: opening.kind, machine, range: opening.range }, 'attempt opened');
  }

  /** Puts every open attempt into its machine's queue that isn't known to be there. Adding it twice does nothing. */
  async #send(): Promise<void> {
    const { book, machines, queues, clock, log } = this.#parts;
    const open = book
      .working()
      .flatMap((record) => openAttempts(record).map((attempt) => ({ record, attempt })));
    for (const { record, attempt } of open) {
      const ref = { jobId: record.id, attempt: attempt.number };
      const key = `${ref.jobId}_${ref.attempt}`;
      const machine = machines.get(attempt.agentId);
      if (!machine?.alive || isRunning(machine, ref)) continue;
      if (clock() - (this.#sentMs.get(key) ?? 0) < resendAfterMs) continue;
      const report = attempt.kind === 'deliver' ? this.#parts.reportText(record) : null;
      try {
        await queues.enqueue(attempt.agentId, makeTask(record, attempt, report));
        this.#sentMs.set(key, clock());
      } catch (error) {
        log.warn(
          { ...ref, failure: toFailure(error, 'dispatch') },
          'the queue did not take an entry; it is tried again',
        );
      }
    }
    this.#forgetSent();
  }

  #forgetSent(): void {
    for (const key of this.#sentMs.keys()) {
      const [jobId, number] = key.split('_');
      const record = this.#parts.book.get(jobId ?? '');
      if (record === null || findAttempt(record, Number(number))?.state !== 'open') this.#sentMs.delete(key);
    }
  }
}
