// House formats: named, versioned output specifications. The built-in ones are in house-formats.ts.
import { z } from 'zod';
import { rationalSchema } from './schema-parts.ts';

export const pictureCodecs = ['vc3', 'prores', 'h264', 'h265', 'av1', 'ffv1'] as const;
export type PictureCodec = (typeof pictureCodecs)[number];

const pictureSpecSchema = z.strictObject({
  codec: z.enum(pictureCodecs),
  /** ffmpeg's profile name where the codec has several (`dnxhr_lb`, `proxy`). */
  profile: z.string().optional(),
  /** ffmpeg's pixel format, or `source` to keep what is there. */
  pixelFormat: z.string(),
  /** Constant quality on the encoder's own scale; absent for lossless and fixed-size codecs. */
  quality: z.number().min(0).max(63).optional(),
  preset: z.string().optional(),
  /** Largest square-pixel size that the picture is fitted into, never enlarged; `source` keeps size and sample aspect. */
  size: z.union([z.literal('source'), z.strictObject({ width: z.int().min(16), height: z.int().min(16) })]),
  /** Output rate; `source` keeps a constant rate and makes a variable one constant. */
  rate: z.union([z.literal('source'), rationalSchema]),
  interlace: z.enum(['keep', 'deinterlace']),
  hdr: z.enum(['keep', 'tone-map']),
  /** Longest distance of keyframes, seconds; intra-only codecs ignore it. */
  gopSeconds: z.number().min(0.2).max(30),
});

const soundSpecSchema = z.strictObject({
  /** `exact`: FLAC where that is bit-exact, PCM of the decoded kind elsewhere. `flac`: FLAC of 16 or 24 bits. */
  codec: z.enum(['pcm', 'exact', 'flac', 'aac']),
  /** For `aac`: bits per second for each channel. */
  bitsPerChannel: z.int().positive().optional(),
});

const checkLimitsSchema = z.strictObject({
  /** Least structural similarity (0–1) of deliverable and source at every sampled picture. */
  likenessFloor: z.number().min(0).max(1),
  /** How much less than its neighbours a seam may score. */
  seamDrop: z.number().min(0).max(1),
  /** Pictures must be equal bit for bit. */
  lossless: z.boolean(),
});

export const houseFormatSchema = z.strictObject({
  name: z.string().regex(/^[a-z][a-z0-9-]{0,47}$/),
  version: z.int().positive(),
  title: z.string().min(1).max(200),
  wrapper: z.enum(['mov', 'mp4', 'mkv']),
  picture: pictureSpecSchema,
  sound: soundSpecSchema,
  /** Length of a grain, seconds; rounded to whole GOPs. */
  grainSeconds: z.number().min(0.5).max(60),
  /** Name of the deliverable; `{stem}` and `{format}` are replaced, the wrapper's extension is added. */
  namePattern: z.string().regex(/^[^/\\]*\{stem\}[^/\\]*$/),
  /** What becomes of a source whose pictures don't all decode. */
  damagedSource: z.enum(['refuse', 'deliver-what-decodes']),
  checks: checkLimitsSchema,
  /** Where the JSON report goes: in the ledger only, or also as a file beside the deliverable. */
  report: z.enum(['ledger', 'beside']),
});
export type HouseFormat = z.infer<typeof houseFormatSchema>;
export type PictureSpec = HouseFormat['picture'];
export type SoundSpec = HouseFormat['sound'];

/** What the name of a report beside a deliverable adds to the deliverable's. */
export const reportSuffix = '.report.json';

export const wrapperExtensions = { mov: '.mov', mp4: '.mp4', mkv: '.mkv' } as const;
export type Wrapper = HouseFormat['wrapper'];
