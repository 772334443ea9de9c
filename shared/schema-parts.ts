// Small schemas that many contracts share.
import { z } from 'zod';
import { rational } from './rational.ts';

/** A fraction on the wire: `{"num":24000,"den":1001}`; reduced when read. */
export const rationalSchema = z
  .strictObject({ num: z.int(), den: z.int().positive() })
  .transform(({ num, den }) => rational(num, den));

/** Half-open run `[first, end)` of frames of the grid. */
export const frameRangeSchema = z
  .strictObject({ first: z.int().nonnegative(), end: z.int().positive() })
  .refine((range) => range.end > range.first, 'the range is empty');
export type FrameRange = z.infer<typeof frameRangeSchema>;

/** xxh128 (unseeded, canonical big-endian hex) unless a longer hash was asked for. */
export const contentHashSchema = z.strictObject({
  algorithm: z.literal('xxh128'),
  hex: z.string().regex(/^[0-9a-f]{32}$/),
});
export type ContentHash = z.infer<typeof contentHashSchema>;

export const jobIdSchema = z.string().regex(/^j[0-9a-z]{8,26}$/);
export const agentIdSchema = z.string().regex(/^[a-z0-9][a-z0-9-]{0,62}$/);
/** Attempts of a job are numbered from 1; the number fences every message and file of the attempt (N7). */
export const attemptNumberSchema = z.int().positive();
