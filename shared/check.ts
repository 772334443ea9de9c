// Checks on a joined or delivered file: what was promised, what was measured, how far off it may be.
import { z } from 'zod';

export const checkNames = [
  'frame-count',
  'time',
  'seams',
  'likeness',
  'one-kind',
  'sound-length',
  'sound-layout',
  'sound-offset',
  'loudness',
  'labels',
  'decodes',
  'bytes',
] as const;
export type CheckName = (typeof checkNames)[number];

export const checkResultSchema = z.strictObject({
  name: z.enum(checkNames),
  ok: z.boolean(),
  /** What was measured, as a person reads it: `720 frames`. */
  measured: z.string(),
  /** What was required: `720 frames`. */
  limit: z.string(),
  /** Frames of the grid at which it failed, so that the grains around them can be made again. */
  frames: z.array(z.int().nonnegative()).default([]),
  note: z.string().optional(),
});
export type CheckResult = z.infer<typeof checkResultSchema>;
