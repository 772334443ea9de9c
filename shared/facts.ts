// MediaFacts: all that planning needs to know of a source, as a plain value. Made by the agent's inspect task.
import { z } from 'zod';
import { contentHashSchema, rationalSchema } from './schema-parts.ts';

/** H.273 code points by ffmpeg's names (`bt709`, `smpte2084` …); null where the source says nothing. */
export const colourSchema = z.strictObject({
  primaries: z.string().nullable(),
  transfer: z.string().nullable(),
  matrix: z.string().nullable(),
  /** `tv` (limited) or `pc` (full). */
  range: z.enum(['tv', 'pc']).nullable(),
  chromaLocation: z.string().nullable(),
});
export type Colour = z.infer<typeof colourSchema>;

/** SMPTE ST 2086 mastering display (chromaticities and cd/m² as fractions) and CTA-861.3 content light level (cd/m²). */
export const hdrSchema = z.strictObject({
  masteringDisplay: z
    .strictObject({
      red: z.tuple([rationalSchema, rationalSchema]),
      green: z.tuple([rationalSchema, rationalSchema]),
      blue: z.tuple([rationalSchema, rationalSchema]),
      white: z.tuple([rationalSchema, rationalSchema]),
      minLuminance: rationalSchema,
      maxLuminance: rationalSchema,
    })
    .nullable(),
  contentLight: z.strictObject({ maxContent: z.int(), maxAverage: z.int() }).nullable(),
});
export type Hdr = z.infer<typeof hdrSchema>;

export const pictureFactsSchema = z.strictObject({
  /** Index of the track in the file, as ffmpeg counts (`0:index`). */
  index: z.int().nonnegative(),
  codec: z.string(),
  profile: z.string().nullable(),
  pixelFormat: z.string(),
  bitDepth: z.int().positive(),
  /** Coded size as stored, before rotation. */
  width: z.int().positive(),
  height: z.int().positive(),
  sampleAspect: rationalSchema,
  /** Clockwise turn that a player applies, degrees. */
  rotation: z.union([z.literal(0), z.literal(90), z.literal(180), z.literal(270)]),
  fieldOrder: z.enum(['progressive', 'top-first', 'bottom-first']),
  colour: colourSchema,
  hdr: hdrSchema.nullable(),
  closedCaptions: z.boolean(),
  /** Seconds per tick of the track's timestamps. */
  timeBase: rationalSchema,
  /** Timestamp of the first presented picture, ticks; the frame grid's zero. */
  startTicks: z.int(),
  /** Timestamp of the last presented picture, ticks. */
  lastTicks: z.int(),
  /** How long the last picture stands, ticks (> 0). */
  lastDurationTicks: z.int().positive(),
  /** Decoded pictures in presentation order. */
  frames: z.int().positive(),
  /** True when every timestamp lies within half a frame of startTicks + k / rate, none missing, none doubled. */
  constantRate: z.boolean(),
  /** The constant rate, or the nearest standard rate of a variable one (frames/s). */
  rate: rationalSchema,
  rateReason: z.string(),
  /** Every picture is a keyframe. `keyframes` is then empty. */
  allIntra: z.boolean(),
  /** Keyframes in presentation order: number of the picture and its timestamp in ticks. */
  keyframes: z.array(z.strictObject({ frame: z.int().nonnegative(), ticks: z.int() })),
});
export type PictureFacts = z.infer<typeof pictureFactsSchema>;

export const soundTrackSchema = z.strictObject({
  index: z.int().nonnegative(),
  codec: z.string(),
  /** ffmpeg's sample format name, and significant bits (24 in s32); 0 for float and lossy codecs. */
  sampleFormat: z.string(),
  significantBits: z.int().nonnegative(),
  sampleRate: z.int().positive(),
  channels: z.int().positive(),
  /** ffmpeg's layout name (`mono`, `5.1`); null where the source says nothing. */
  layout: z.string().nullable(),
  /** First presented sound, relative to the first presented picture, seconds (negative: earlier). */
  startSeconds: z.number(),
  durationSeconds: z.number().nonnegative(),
  /** Breaks in the track's timestamps that have to be filled to stay in step. */
  gaps: z.boolean(),
  language: z.string().nullable(),
  title: z.string().nullable(),
  isDefault: z.boolean(),
});
export type SoundTrack = z.infer<typeof soundTrackSchema>;

/** How the source may be cut, from trial cuts whose pictures were compared by hash with a decode from far before. */
export const cutFactsSchema = z.strictObject({
  /** `anywhere`: all-intra. `keyframes`: seek `leadKeyframes` before the wanted one. `head-only`: only decoding from the start is right. */
  verdict: z.enum(['anywhere', 'keyframes', 'head-only']),
  leadKeyframes: z.int().nonnegative(),
  reason: z.string(),
  trials: z.array(
    z.strictObject({
      frame: z.int().nonnegative(),
      leadKeyframes: z.int().nonnegative(),
      picturesCompared: z.int(),
      same: z.boolean(),
    }),
  ),
});
export type CutFacts = z.infer<typeof cutFactsSchema>;

export const mediaFactsSchema = z.strictObject({
  schema: z.literal(1),
  bytes: z.int().positive(),
  modifiedMs: z.number(),
  /** Hash over head, middle and tail pieces and the size: tells sources apart, proves nothing about every byte. */
  fingerprint: contentHashSchema,
  /** Demuxer that our own sniffing expects, given to every later `-format_whitelist`. */
  demuxer: z.string(),
  /** The container's own start and length, seconds; informative, and what `-ss` is relative to. */
  containerStartSeconds: z.number(),
  containerDurationSeconds: z.number().nullable(),
  picture: pictureFactsSchema,
  pictureReason: z.string(),
  sound: z.array(soundTrackSchema),
  /** Tracks that are neither the chosen picture nor sound, with what becomes of them. */
  otherTracks: z.array(
    z.strictObject({ index: z.int(), kind: z.string(), codec: z.string(), note: z.string() }),
  ),
  /** Label of the first presented picture. */
  timecode: z.strictObject({ text: z.string(), dropFrame: z.boolean(), from: z.string() }).nullable(),
  reelName: z.string().nullable(),
  tags: z.record(z.string(), z.string()),
  /** Times relative to the first presented picture, seconds. */
  chapters: z.array(z.strictObject({ startSeconds: z.number(), endSeconds: z.number(), title: z.string() })),
  cuts: cutFactsSchema,
  /** What a person should know: damage, odd timestamps, losses to expect. One sentence each. */
  warnings: z.array(z.string()),
});
export type MediaFacts = z.infer<typeof mediaFactsSchema>;
