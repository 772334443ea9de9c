// Follows one encoder process: pairs closed grains with the hashes of the source pictures at their borders, hands them
// over one after the other, and heeds the lease.
import { join } from 'node:path';
import { MillError } from '#shared/errors.ts';
import type { Lease } from '#shared/link.ts';
import {
  compareRational,
  divide,
  multiply,
  type Rational,
  rational,
  scaleInteger,
  subtract,
} from '#shared/rational.ts';
import type { EncodeTask } from '#shared/task.ts';
import { ticksOfFrame } from '../../media/decode-args.ts';
import { grainExtension } from '../../media/segment-args.ts';
import { parseSegmentLine, type SegmentLine } from '../../media/segment-output.ts';
import type { TaskContext } from '../task-context.ts';
import { readGrain } from './read-grain.ts';

export type GrainFlowParts = {
  readonly task: EncodeTask;
  readonly folder: string;
  readonly context: TaskContext;
  /** Ends the encoder when the lease is over before the range is. */
  readonly stop: AbortController;
};

const progressEveryMs = 900;

export class GrainFlow {
  readonly #parts: GrainFlowParts;
  readonly #startedMs = performance.now();
  /** Hash of border picture number n of the segment: n · grainFrames, the last one just beyond the end. */
  readonly #borders: string[] = [];
  #clock: Rational | null = null;
  #closed: number[] = [];
  #chain: Promise<void> = Promise.resolve();
  #reportedMs = 0;
  #end: number;
  #stored = 0;
  failure: Error | null = null;

  constructor(parts: GrainFlowParts) {
    this.#parts = parts;
    this.#end = parts.task.range.end;
  }

  get storedFrames(): number {
    return this.#stored;
  }

  /** Every frame of the lease, as it stands now, is stored. */
  get complete(): boolean {
    return this.failure === null && this.#parts.task.range.first + this.#stored >= this.#end;
  }

  /** One line of the encoder's output. Answers whether it tells of progress. */
  take(line: string): boolean {
    const said = parseSegmentLine(line);
    if (said === null) return false;
    this.#heed(said);
    return said.type !== 'progress' || said.frames > 0;
  }

  /** Hands over what is still closed but waited for its border picture; to be called when the process has ended. */
  async finish(): Promise<void> {
    this.#release(true);
    await this.#chain;
  }

  #heed(said: SegmentLine): void {
    switch (said.type) {
      case 'clock':
        this.#clock ??= rational(said.num, said.den);
        return;
      case 'picture':
        this.#borders.push(said.hash);
        this.#expectTime(this.#borders.length - 1, said.timestamp);
        this.#release(false);
        return;
      case 'grain':
        this.#closed.push(said.index);
        this.#release(false);
        return;
      case 'progress':
        this.#tellProgress(said.frames);
        return;
    }
  }

  /** A picture that went missing shifts all later ones: their time tells at the next border. */
  #expectTime(border: number, timestamp: number): void {
    const { task } = this.#parts;
    if (task.way.resample || this.#clock === null) return;
    const frame = Math.min(task.range.first + border * task.grainFrames, task.range.end);
    if (border > Math.ceil((task.range.end - task.range.first) / task.grainFrames)) {
      this.#fail(tooManyPictures());
      return;
    }
    const due = multiply(rational(ticksOfFrame(task.track, task.rate, frame)), task.track.timeBase);
    const off = subtract(multiply(rational(timestamp), this.#clock), due);
    const half = divide(rational(1, 2), task.rate);
    if (compareRational(off, half) < 0 && compareRational(off, { num: -half.num, den: half.den }) > 0) return;
    const frames = scaleInteger(1, multiply(off, task.rate), 'nearest');
    this.#fail(
      new MillError(
        'source-damaged',
        `frame ${frame} of the source came ${Math.abs(frames)} pictures too ${frames > 0 ? 'late' : 'early'}: pictures before it are missing or doubled`,
      ),
    );
  }

  /** Sends closed grains whose border pictures are known; all of them once the process has ended. */
  #release(ended: boolean): void {
    for (let index = this.#closed[0]; index !== undefined; index = this.#closed[0]) {
      const nth = index - this.#parts.task.range.first / this.#parts.task.grainFrames;
      const known = this.#borders.length > nth + 1 || ended;
      if (!known) return;
      this.#closed.shift();
      const grain = index;
      this.#chain = this.#chain
        .then(() => this.#handOver(grain, nth))
        .catch((error: unknown) => this.#fail(error));
    }
  }

  async #handOver(index: number, nth: number): Promise<void> {
    const { task, folder, context } = this.#parts;
    if (this.failure !== null || context.signal.aborted || this.#overLease(index)) return;
    const name = `${String(index).padStart(6, '0')}${grainExtension(task)}`;
    const seen = await readGrain(join(folder, name), task, context.signal);
    const due = Math.min(task.grainFrames, task.range.end - index * task.grainFrames);
    const [firstPicture, nextPicture] = [this.#borders[nth], this.#borders[nth + 1] ?? null];
    const filmEnds = index * task.grainFrames + due === task.totalFrames;
    this.#expectPictures({ index, frames: seen.frames, due, filmEnds, nextPicture });
    const stored = await context.granary.store(join(folder, name), `grain-${name}`);
    const report = {
      index,
      frames: seen.frames,
      ...stored,
      signature: seen.signature,
      firstPicture: firstPicture ?? '',
      nextPicture,
    };
    const lease = await context.report.grain(report);
    this.#stored += seen.frames;
    this.#heedLease(lease);
  }

  /** The lease can end altogether, or move down to what is stored already. */
  #heedLease({ proceed, end }: Lease): void {
    if (!proceed) this.#fail(new MillError('stale-attempt', 'the attempt no longer counts'));
    else this.#end = Math.min(this.#end, end);
    if (this.complete) this.#parts.stop.abort();
  }

  #expectPictures(grain: {
    index: number;
    frames: number;
    due: number;
    filmEnds: boolean;
    nextPicture: string | null;
  }): void {
    const { index, frames, due, filmEnds, nextPicture } = grain;
    if (frames !== due)
      throw new MillError(
        'source-damaged',
        `grain ${index} has ${frames} pictures where ${due} are due: the source ends early or pictures are missing`,
      );
    if (filmEnds && nextPicture !== null) throw tooManyPictures();
    if (!filmEnds && nextPicture === null)
      throw new MillError('source-damaged', `the source ended with grain ${index}, before the film does`);
  }

  /** The lease has moved down below this grain while it was encoded. */
  #overLease(index: number): boolean {
    return index * this.#parts.task.grainFrames >= this.#end;
  }

  #fail(error: unknown): void {
    this.failure ??= error instanceof Error ? error : new Error(String(error));
    this.#parts.stop.abort();
  }

  #tellProgress(frames: number): void {
    const now = performance.now();
    if (now - this.#reportedMs < progressEveryMs) return;
    this.#reportedMs = now;
    const { report, log } = this.#parts.context;
    report
      .progress({ frames, seconds: (now - this.#startedMs) / 1000 })
      .then((lease) => this.#heedLease(lease))
      .catch((error: unknown) => log.warn({ err: error }, 'progress could not be reported'));
  }
}

function tooManyPictures(): MillError {
  return new MillError(
    'source-damaged',
    'the source has more pictures than were counted in it; retry the job to inspect it again',
  );
}
