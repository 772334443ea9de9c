// What placing knows and decides. The simulator feeds the same shapes to the same code.
import type { FrameRange } from '#shared/schema-parts.ts';

/** One place for an encoder process on one machine, free or busy. */
export type EncodePlace = {
  readonly agentId: string;
  readonly free: boolean;
  readonly lanes: readonly PlaceLane[];
};

export type PlaceLane = {
  readonly laneId: string;
  readonly codec: string;
  readonly stitchClass: string;
  /** Megapixels/s of output by `format@version`; formats that were never measured are absent. */
  readonly megapixelsPerSecond: Readonly<Record<string, number>>;
};

/** A job that still has grains to give out. */
export type EncodeWork = {
  readonly jobId: string;
  readonly priority: number;
  readonly receivedMs: number;
  readonly codec: string;
  /** `name@version`. */
  readonly formatKey: string;
  /** Output samples of one frame. */
  readonly pixels: number;
  /** Free runs on grain borders, in order. */
  readonly runs: readonly FrameRange[];
  readonly grainFrames: number;
  /** Fixed by the job's first lease; null while open. */
  readonly stitchClass: string | null;
  /** One lease at a time, all of it. */
  readonly whole: boolean;
  /** Machines that reach the source. */
  readonly reachableBy: ReadonlySet<string>;
  /** Machines where this job failed: taken only when no other is left. */
  readonly avoid: ReadonlySet<string>;
};

export type Assignment = {
  readonly jobId: string;
  readonly agentId: string;
  readonly laneId: string;
  readonly stitchClass: string;
  readonly range: FrameRange;
};
