// Tasks: what the coordinator asks of an agent, and what comes back. The queue entry is the whole task, so that
// an agent needs nothing else to start; the coordinator can always make it again from the ledger.
import { z } from 'zod';
import { checkResultSchema } from './check.ts';
import { mediaFactsSchema, pictureFactsSchema } from './facts.ts';
import { failureSchema } from './failure.ts';
import { houseFormatSchema } from './house-format.ts';
import { pictureWaySchema, planSchema, soundWaySchema } from './plan.ts';
import {
  attemptNumberSchema,
  contentHashSchema,
  frameRangeSchema,
  jobIdSchema,
  rationalSchema,
} from './schema-parts.ts';
import { volumePathText } from './volume-path.ts';

const common = { jobId: jobIdSchema, attempt: attemptNumberSchema };

/** A file in the granary, the coordinator's folder of finished grains: path relative to it, `/` between. */
export const granaryFileSchema = z.strictObject({
  file: z.string().regex(/^[a-z0-9][a-zA-Z0-9._/-]*$/),
  bytes: z.int().nonnegative(),
  hash: contentHashSchema,
});
export type GranaryFile = z.infer<typeof granaryFileSchema>;

/** The picture track without its keyframe list: a long source's list doesn't belong in a queue entry. */
export const pictureTrackSchema = pictureFactsSchema.omit({ keyframes: true });
export type PictureTrack = z.infer<typeof pictureTrackSchema>;

/** What agents need of a source to open it again and to be sure that it is still the same. */
export const sourceSchema = z.strictObject({
  path: volumePathText,
  bytes: z.int().positive(),
  modifiedMs: z.number(),
  demuxer: z.string(),
  containerStartSeconds: z.number(),
});
export type Source = z.infer<typeof sourceSchema>;

/** One encoded sound track, whole, its first sample at the file's zero. */
export const soundFileSchema = z.strictObject({
  ...granaryFileSchema.shape,
  /** Its place: first sound relative to the first picture, seconds (negative: earlier). */
  startSeconds: z.number(),
});
export type SoundFile = z.infer<typeof soundFileSchema>;

export const inspectTaskSchema = z.strictObject({
  ...common,
  kind: z.literal('inspect'),
  path: volumePathText,
});

export const encodeTaskSchema = z.strictObject({
  ...common,
  kind: z.literal('encode'),
  lane: z.string(),
  source: sourceSchema,
  track: pictureTrackSchema,
  way: pictureWaySchema,
  format: houseFormatSchema,
  rate: rationalSchema,
  totalFrames: z.int().positive(),
  grainFrames: z.int().positive(),
  gopFrames: z.int().positive(),
  range: frameRangeSchema,
  /** Where to seek, seconds from the container's start, rounded up to a microsecond; null decodes from the head. */
  seekSeconds: z.string().nullable(),
});

export const soundTaskSchema = z.strictObject({
  ...common,
  kind: z.literal('sound'),
  source: sourceSchema,
  track: pictureTrackSchema,
  tracks: z.array(soundWaySchema).min(1),
  wrapper: z.enum(['mov', 'mp4', 'mkv']),
});

export const joinTaskSchema = z.strictObject({
  ...common,
  kind: z.literal('join'),
  source: sourceSchema,
  facts: mediaFactsSchema,
  format: houseFormatSchema,
  plan: planSchema,
  /** In order; together they are frames `[0, plan.frames)`. */
  grains: z.array(z.strictObject({ ...granaryFileSchema.shape, frames: z.int().positive() })).min(1),
  /** One file for each track of `plan.sound`, in order. */
  sound: z.array(soundFileSchema),
});

export const checkTaskSchema = z.strictObject({
  ...common,
  kind: z.literal('check'),
  source: sourceSchema,
  facts: mediaFactsSchema,
  format: houseFormatSchema,
  plan: planSchema,
  joined: granaryFileSchema,
  /** One entry a grain, in order: who made it, and the hashes of its first source picture and of the one after its last. */
  grains: z.array(
    z.strictObject({
      first: z.int().nonnegative(),
      end: z.int().positive(),
      attempt: attemptNumberSchema,
      firstPicture: z.string(),
      nextPicture: z.string().nullable(),
    }),
  ),
});

export const deliverTaskSchema = z.strictObject({
  ...common,
  kind: z.literal('deliver'),
  joined: granaryFileSchema,
  to: volumePathText,
  replace: z.boolean(),
  /** Text of the report file to write beside the deliverable; null writes none. */
  report: z.string().nullable(),
});

export const taskSchema = z.discriminatedUnion('kind', [
  inspectTaskSchema,
  encodeTaskSchema,
  soundTaskSchema,
  joinTaskSchema,
  checkTaskSchema,
  deliverTaskSchema,
]);
export type Task = z.infer<typeof taskSchema>;
export type TaskKind = Task['kind'];
export type InspectTask = z.infer<typeof inspectTaskSchema>;
export type EncodeTask = z.infer<typeof encodeTaskSchema>;
export type SoundTask = z.infer<typeof soundTaskSchema>;
export type JoinTask = z.infer<typeof joinTaskSchema>;
export type CheckTask = z.infer<typeof checkTaskSchema>;
export type DeliverTask = z.infer<typeof deliverTaskSchema>;

/** A closed grain, reported the moment it is complete. */
export const grainReportSchema = z.strictObject({
  index: z.int().nonnegative(),
  frames: z.int().positive(),
  ...granaryFileSchema.shape,
  /** Hash of the decoder configuration and the shape of the stream: only equal ones may be joined (N3). */
  signature: z.string(),
  firstPicture: z.string(),
  /** Null only for the film's last grain. */
  nextPicture: z.string().nullable(),
});
export type GrainReport = z.infer<typeof grainReportSchema>;

export const taskResultSchema = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('inspect'), facts: mediaFactsSchema }),
  z.strictObject({
    kind: z.literal('encode'),
    frames: z.int().nonnegative(),
    seconds: z.number(),
    command: z.string(),
  }),
  z.strictObject({ kind: z.literal('sound'), tracks: z.array(soundFileSchema) }),
  z.strictObject({ kind: z.literal('join'), ...granaryFileSchema.shape, dropped: z.array(z.string()) }),
  z.strictObject({ kind: z.literal('check'), checks: z.array(checkResultSchema).min(1) }),
  z.strictObject({ kind: z.literal('deliver'), ...granaryFileSchema.shape, check: checkResultSchema }),
]);
export type TaskResult = z.infer<typeof taskResultSchema>;

/** How an attempt ended. */
export const attemptOutcomeSchema = z.discriminatedUnion('ok', [
  z.strictObject({ ok: z.literal(true), result: taskResultSchema }),
  z.strictObject({ ok: z.literal(false), failure: failureSchema }),
]);
export type AttemptOutcome = z.infer<typeof attemptOutcomeSchema>;
