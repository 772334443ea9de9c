// The plan of a job: the frame grid, the grains, the way of the picture and of the sound, all as plain values.
import { z } from 'zod';
import { colourSchema, hdrSchema } from './facts.ts';
import { rationalSchema } from './schema-parts.ts';

/** What the picture goes through between the decoder and the encoder; part of what may share a deliverable. */
export const pictureWaySchema = z.strictObject({
  /** Present when the grid isn't the source's own pictures: variable rate, or another output rate. */
  resample: z.boolean(),
  /** The source is damaged and the format takes what decodes: missing pictures are covered by the one before. */
  tolerant: z.boolean(),
  deinterlace: z.enum(['top-first', 'bottom-first']).nullable(),
  toneMap: z.boolean(),
  /** Output size in samples, after rotation. */
  width: z.int().positive(),
  height: z.int().positive(),
  /** False when the size stays what the decoder (and rotation) gives: then nothing is scaled. */
  scale: z.boolean(),
  sampleAspect: rationalSchema,
  pixelFormat: z.string(),
  /** Labels of the output. */
  colour: colourSchema,
  hdr: hdrSchema.nullable(),
  fieldOrder: z.enum(['progressive', 'top-first', 'bottom-first']),
});
export type PictureWay = z.infer<typeof pictureWaySchema>;

/** What one sound track becomes. Sound is encoded once, whole (N4). */
export const soundWaySchema = z.strictObject({
  /** Track index in the source. */
  index: z.int().nonnegative(),
  /** ffmpeg's encoder name: `pcm_s24le`, `aac`, `flac` … */
  encoder: z.string(),
  bitRate: z.int().positive().nullable(),
  /** Fill breaks in the timestamps with silence. */
  fillGaps: z.boolean(),
  startSeconds: z.number(),
  language: z.string().nullable(),
  title: z.string().nullable(),
  isDefault: z.boolean(),
});
export type SoundWay = z.infer<typeof soundWaySchema>;

export const planSchema = z.strictObject({
  rate: rationalSchema,
  /** Frames of the grid. */
  frames: z.int().positive(),
  /** Frames of a grain; the last one may be shorter. Grain i is `[i·grainFrames, min((i+1)·grainFrames, frames))`. */
  grainFrames: z.int().positive(),
  /** Frames between forced keyframes; divides grainFrames. */
  gopFrames: z.int().positive(),
  /** Why the picture runs as one segment on one lane; null when it may be split. */
  wholeBecause: z.string().nullable(),
  picture: pictureWaySchema,
  sound: z.array(soundWaySchema),
  /** Label of frame 0 as the deliverable carries it. */
  timecode: z.string().nullable(),
  /** Upper estimate of the grains together, bytes. */
  estimatedBytes: z.int().nonnegative(),
  /** What is knowingly changed or dropped, one sentence each; goes into the report. */
  notes: z.array(z.string()),
});
export type Plan = z.infer<typeof planSchema>;

/** Number of grains of a plan. */
export function grainCount(plan: Pick<Plan, 'frames' | 'grainFrames'>): number {
  return Math.ceil(plan.frames / plan.grainFrames);
}

/** Frames `[first, end)` of grain `index`. */
export function grainRange(
  plan: Pick<Plan, 'frames' | 'grainFrames'>,
  index: number,
): { first: number; end: number } {
  return { first: index * plan.grainFrames, end: Math.min((index + 1) * plan.grainFrames, plan.frames) };
}
