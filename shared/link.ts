// The contract between agent and coordinator over HTTP. The queue carries tasks to the agent; everything that must
// be durable before it is answered (grains, results) comes back this way.
import { z } from 'zod';
import { pictureCodecs } from './house-format.ts';
import { agentIdSchema, attemptNumberSchema, jobIdSchema } from './schema-parts.ts';

/** Raised when agent and coordinator of different versions can no longer work together. */
export const protocolVersion = 1;

/** `reason` of a lane whose proof is still to come: it may turn out either way. */
export const proofToCome = 'its proof has not run yet';

export const laneSchema = z.strictObject({
  /** Name of the lane on its agent; for software the encoder's name. */
  id: z.string().regex(/^[a-z0-9][a-z0-9_-]{0,62}$/),
  encoder: z.string(),
  codec: z.enum(pictureCodecs),
  /** `cpu`, or the device. */
  device: z.string(),
  /** Lanes of equal class are expected to write equal signatures: encoder, version, way of the picture. */
  stitchClass: z.string(),
  proven: z.boolean(),
  /** Why it isn't proven, in words that a technician can act on. */
  reason: z.string().nullable(),
  /** Measured by a real encode: house format `name@version` → speed at the calibration size. */
  rates: z.record(
    z.string(),
    z.strictObject({ framesPerSecond: z.number().positive(), megapixelsPerSecond: z.number().positive() }),
  ),
});
export type Lane = z.infer<typeof laneSchema>;

/** What of the shared storage this machine can reach. */
export const reachSchema = z.strictObject({
  /** The agent sees the coordinator's granary as a folder, proven by reading the coordinator's own mark in it. */
  granary: z.boolean(),
  volumes: z.record(z.string(), z.strictObject({ readable: z.boolean(), writable: z.boolean() })),
});
export type Reach = z.infer<typeof reachSchema>;

export const registrationSchema = z.strictObject({
  protocol: z.int().positive(),
  agentId: agentIdSchema,
  name: z.string().min(1).max(64),
  version: z.string(),
  platform: z.string(),
  cpu: z.string(),
  cores: z.int().positive(),
  ffmpeg: z.string(),
  /** Encoder processes at a time; 0 lends no encoders. */
  encodePlaces: z.int().nonnegative(),
  /** Other tasks (inspect, sound, join, check, deliver) at a time. */
  deskPlaces: z.int().nonnegative(),
  lanes: z.array(laneSchema),
  volumes: reachSchema.shape.volumes,
});
export type Registration = z.infer<typeof registrationSchema>;

export const registrationReplySchema = z.strictObject({
  redisUrl: z.string(),
  queuePrefix: z.string(),
  queueName: z.string(),
  heartbeatSeconds: z.number().positive(),
  granary: z.strictObject({
    /** The folder as the coordinator sees it. */
    path: z.string(),
    /** A file in it, and its text: an agent that reads the same text at that path shares the folder. */
    markFile: z.string(),
    markText: z.string(),
  }),
});
export type RegistrationReply = z.infer<typeof registrationReplySchema>;

const attemptRef = z.strictObject({ jobId: jobIdSchema, attempt: attemptNumberSchema });
export type AttemptRef = z.infer<typeof attemptRef>;

export const heartbeatSchema = z.strictObject({
  reach: reachSchema,
  running: z.array(attemptRef),
  /** Seconds since the queue last answered a fetch; a silent queue shows here. */
  queueAgeSeconds: z.number().nonnegative(),
});
export type Heartbeat = z.infer<typeof heartbeatSchema>;

/** `stop`: attempts that no longer count; the agent ends their processes. */
export const heartbeatReplySchema = z.strictObject({ stop: z.array(attemptRef) });
export type HeartbeatReply = z.infer<typeof heartbeatReplySchema>;

export const progressSchema = z.strictObject({
  /** Frames of this attempt that went through the encoder so far. */
  frames: z.int().nonnegative(),
  /** Seconds since the encoder started. */
  seconds: z.number().nonnegative(),
  command: z.string().optional(),
});
export type Progress = z.infer<typeof progressSchema>;

/** The lease as it stands: go on, up to frame `end` (it can move down while the attempt runs). */
export const leaseSchema = z.strictObject({ proceed: z.boolean(), end: z.int().nonnegative() });
export type Lease = z.infer<typeof leaseSchema>;
