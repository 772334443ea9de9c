// ffprobe's JSON as far as the facts need it. Fields that a track may lack are optional; nothing else is assumed.
import { z } from 'zod';
import { MillError } from '#shared/errors.ts';

const tags = z.record(z.string(), z.string()).default({});
const sideData = z.array(z.looseObject({ side_data_type: z.string().default('') })).default([]);
const colourLabels = {
  color_range: z.string().optional(),
  color_space: z.string().optional(),
  color_transfer: z.string().optional(),
  color_primaries: z.string().optional(),
  chroma_location: z.string().optional(),
};

/** A field of side data as text; empty when it is absent or no plain value. */
export function sideField(data: ProbeStream['side_data_list'][number] | undefined, name: string): string {
  const value = data?.[name];
  return typeof value === 'string' || typeof value === 'number' ? String(value) : '';
}

export const probeStreamSchema = z.object({
  index: z.int().nonnegative(),
  codec_type: z.string().default('unknown'),
  codec_name: z.string().default('unknown'),
  codec_tag_string: z.string().default(''),
  profile: z.string().optional(),
  width: z.int().default(0),
  height: z.int().default(0),
  pix_fmt: z.string().optional(),
  sample_aspect_ratio: z.string().optional(),
  ...colourLabels,
  field_order: z.string().optional(),
  closed_captions: z.int().default(0),
  bits_per_raw_sample: z.coerce.number().optional(),
  bits_per_sample: z.coerce.number().optional(),
  sample_fmt: z.string().optional(),
  sample_rate: z.coerce.number().optional(),
  channels: z.int().optional(),
  channel_layout: z.string().optional(),
  r_frame_rate: z.string().default('0/0'),
  avg_frame_rate: z.string().default('0/0'),
  time_base: z.string().default('0/1'),
  start_pts: z.int().optional(),
  start_time: z.string().optional(),
  nb_frames: z.coerce.number().optional(),
  disposition: z.record(z.string(), z.number()).default({}),
  tags,
  side_data_list: sideData,
});
export type ProbeStream = z.infer<typeof probeStreamSchema>;

export const probeHeaderSchema = z.object({
  streams: z.array(probeStreamSchema).default([]),
  chapters: z
    .array(z.object({ start_time: z.string().default('0'), end_time: z.string().default('0'), tags }))
    .default([]),
  format: z
    .object({
      format_name: z.string().default(''),
      start_time: z.string().optional(),
      duration: z.string().optional(),
      tags,
    })
    .default({ format_name: '', tags: {} }),
});
export type ProbeHeader = z.infer<typeof probeHeaderSchema>;

const probeFrameSchema = z.object({
  pix_fmt: z.string().optional(),
  interlaced_frame: z.int().default(0),
  top_field_first: z.int().default(0),
  ...colourLabels,
  tags,
  side_data_list: sideData,
});
export type ProbeFrame = z.infer<typeof probeFrameSchema>;
const probeFramesSchema = z.object({ frames: z.array(probeFrameSchema).default([]) });
const probeSoundSchema = z.object({
  frames: z.array(z.object({ stream_index: z.int(), best_effort_timestamp: z.int().optional() })).default([]),
});

/** Options that make the header report: tracks, container, chapters. */
export const headerOptions = ['-show_streams', '-show_format', '-show_chapters', '-of', 'json'] as const;

/** Options that describe the first pictures of track `index`, decoded from the first `packets` packets. */
export function firstPicturesOptions(index: number, packets: number): string[] {
  return picturesOptions(index, `%+#${packets}`);
}

/** The same, and as many from `middleSeconds` on, because a film may begin with pictures of another kind. */
export function sampledPicturesOptions(index: number, packets: number, middleSeconds: number): string[] {
  return picturesOptions(index, `%+#${packets},${middleSeconds.toFixed(3)}%+#${packets}`);
}

function picturesOptions(index: number, intervals: string): string[] {
  return ['-select_streams', String(index), '-read_intervals', intervals, '-show_frames', '-of', 'json'];
}

/** Options that list the first sounds of every sound track, decoded from the first `packets` packets of sound. */
export function firstSoundOptions(packets: number): string[] {
  const entries = ['-show_entries', 'frame=stream_index,best_effort_timestamp'];
  return ['-select_streams', 'a', '-read_intervals', `%+#${packets}`, ...entries, '-of', 'json'];
}

export function readHeader(json: string): ProbeHeader {
  return read(probeHeaderSchema, json);
}

export function readFrames(json: string): readonly ProbeFrame[] {
  return read(probeFramesSchema, json).frames;
}

/** Ticks of the first decoded sound by track index; tracks that begin later in the file are missing. */
export function readFirstSound(json: string): ReadonlyMap<number, number> {
  const first = new Map<number, number>();
  for (const { stream_index: index, best_effort_timestamp: ticks } of read(probeSoundSchema, json).frames) {
    if (ticks !== undefined && !first.has(index)) first.set(index, ticks);
  }
  return first;
}

function read<T>(schema: z.ZodType<T>, json: string): T {
  try {
    return schema.parse(JSON.parse(json));
  } catch (error) {
    throw new MillError('internal', 'ffprobe wrote a report that is not understood; check its version', {
      cause: error,
    });
  }
}
