// Everything that can happen to a job, as it is kept in the ledger. Replaying a job's events through `applyEvent`
// gives its record back, so these shapes may gain optional fields but never change meaning.
import { z } from 'zod';
import { mediaFactsSchema } from '#shared/facts.ts';
import { failureSchema } from '#shared/failure.ts';
import { houseFormatSchema } from '#shared/house-format.ts';
import { fallbackSchema, submissionSchema } from '#shared/job.ts';
import { planSchema } from '#shared/plan.ts';
import { agentIdSchema, attemptNumberSchema, frameRangeSchema } from '#shared/schema-parts.ts';
import { attemptOutcomeSchema, grainReportSchema } from '#shared/task.ts';

const attempt = attemptNumberSchema;

export const jobEventSchema = z.discriminatedUnion('type', [
  z.strictObject({
    type: z.literal('received'),
    batchId: z.string().nullable(),
    submission: submissionSchema,
    format: houseFormatSchema,
    /** Volume path of the deliverable, fixed at submission. */
    deliverable: z.string(),
    /** Facts from an earlier inspection of the very same file, if there was one. */
    facts: mediaFactsSchema.nullable(),
  }),
  z.strictObject({ type: z.literal('planned'), plan: planSchema }),
  z.strictObject({
    type: z.literal('opened'),
    attempt,
    kind: z.enum(['inspect', 'encode', 'sound', 'join', 'check', 'deliver']),
    agentId: agentIdSchema,
    machine: z.string(),
    lane: z.string().nullable(),
    stitchClass: z.string().nullable(),
    range: frameRangeSchema.nullable(),
  }),
  z.strictObject({ type: z.literal('grain'), attempt, grain: grainReportSchema }),
  z.strictObject({ type: z.literal('lease-moved'), attempt, end: z.int().positive() }),
  z.strictObject({ type: z.literal('ended'), attempt, outcome: attemptOutcomeSchema }),
  /** The machine went away, or the attempt was withdrawn: nothing that it still says counts. */
  z.strictObject({ type: z.literal('lost'), attempt, failure: failureSchema }),
  z.strictObject({ type: z.literal('stopped'), attempt }),
  /**
   * These grains are made again (null: all of them, and the sound) because a check or the join found fault with them; the
   * sound too if `sound` says so. What is joined always goes.
   */
  z.strictObject({
    type: z.literal('remade'),
    grains: z.array(z.int().nonnegative()).nullable(),
    sound: z.boolean().optional(),
    fallback: fallbackSchema,
    reason: failureSchema,
  }),
  /** The source turned out otherwise than its facts said: all pictures are made again by another plan. */
  z.strictObject({ type: z.literal('replanned'), plan: planSchema, reason: failureSchema }),
  z.strictObject({ type: z.literal('held'), reason: failureSchema }),
  z.strictObject({ type: z.literal('failed'), reason: failureSchema }),
  z.strictObject({ type: z.literal('cancelled') }),
  z.strictObject({ type: z.literal('retried') }),
]);
export type JobEvent = z.infer<typeof jobEventSchema>;
