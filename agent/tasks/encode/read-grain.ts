// Looks at a closed grain as a reader would: how many pictures, and of what kind. The stitch signature is made from
// what the encoder really wrote, never from its settings (N3).
import { createHash } from 'node:crypto';
import { z } from 'zod';
import { MillError } from '#shared/errors.ts';
import type { EncodeTask } from '#shared/task.ts';
import { fileInput, guardOptions } from '../../media/safe-input.ts';
import { decisiveLine, runTool } from '../../tools/run-tool.ts';

const probedSchema = z.object({
  streams: z
    .array(
      z.object({
        codec_name: z.string(),
        codec_tag_string: z.string(),
        profile: z.string().optional(),
        level: z.number().optional(),
        width: z.number(),
        height: z.number(),
        pix_fmt: z.string(),
        sample_aspect_ratio: z.string().optional(),
        field_order: z.string().optional(),
        color_range: z.string().optional(),
        color_space: z.string().optional(),
        color_transfer: z.string().optional(),
        color_primaries: z.string().optional(),
        extradata_hash: z.string().optional(),
        chroma_location: z.string().optional(),
        has_b_frames: z.number().optional(),
        time_base: z.string(),
        nb_read_packets: z.string(),
      }),
    )
    .length(1),
});

export type ReadGrain = { readonly frames: number; readonly signature: string };

/** Throws MillError `encoder-failed` when the grain can't be read back. */
export async function readGrain(
  path: string,
  task: Pick<EncodeTask, 'way'>,
  signal: AbortSignal,
): Promise<ReadGrain> {
  const args = ['-v', 'error', ...guardOptions('mov,mp4,m4a,3gp,3g2,mj2'), '-count_packets', '-show_streams'];
  const run = await runTool({
    tool: 'ffprobe',
    args: [...args, '-show_data_hash', 'md5', '-of', 'json', fileInput(path)],
    signal,
    timeoutMs: 60_000,
  });
  const stream = run.ok ? probedSchema.safeParse(JSON.parse(run.stdout)).data?.streams[0] : undefined;
  if (stream === undefined) {
    throw new MillError(
      'encoder-failed',
      `the encoder wrote a grain that cannot be read: ${decisiveLine(run)}`,
      { details: { command: run.command } },
    );
  }
  const { nb_read_packets: packets, ...kind } = stream;
  // The way of the picture belongs to the signature: equal parameter sets say nothing of another scaler.
  return { frames: Number(packets), signature: hashOf({ kind, way: task.way }) };
}

function hashOf(value: unknown): string {
  return createHash('sha256').update(JSON.stringify(value)).digest('hex').slice(0, 32);
}
