// The encoders that need no device. Which of them a machine really has, only a proof shows.
import type { PictureCodec } from '#shared/house-format.ts';
import { softwareEncoders } from '../media/encoder-args.ts';

export type LaneCandidate = {
  readonly encoder: string;
  readonly codec: PictureCodec;
  readonly device: string;
  /** Finds the encoder library's own version in ffmpeg's log; null when the encoder is part of ffmpeg. */
  readonly versionPattern: RegExp | null;
};

const versionPatterns: Readonly<Record<string, RegExp>> = {
  libx264: /264 - core (\d+(?: r\d+)?)/,
  libx265: /HEVC encoder version (\S+)/,
  libsvtav1: /SVT-AV1 Encoder Lib (\S+)/,
};

export const softwareLanes: readonly LaneCandidate[] = Object.entries(softwareEncoders).map(
  ([codec, encoder]) => ({
    encoder,
    codec: codec as PictureCodec,
    device: 'cpu',
    versionPattern: versionPatterns[encoder] ?? null,
  }),
);

/** Equal for lanes that can be expected to write equal streams. `libraryVersion` null: the encoder is ffmpeg's own. */
export function stitchClassOf(encoder: string, ffmpegVersion: string, libraryVersion: string | null): string {
  return [encoder, ...(libraryVersion === null ? [] : [libraryVersion]), 'ffmpeg', ffmpegVersion].join(' ');
}
