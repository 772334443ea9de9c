// What lanes are tried with: synthetic moving pictures, and for each codec the settings of a house format.

import type { HouseFormat, PictureCodec, PictureSpec } from '#shared/house-format.ts';
import { builtInFormats } from '#shared/house-formats.ts';
import { encoderArgs } from '../media/encoder-args.ts';

export type Size = { readonly width: number; readonly height: number };

/** Frames/s of the pictures that lanes are tried with. */
const trialRate = 25;

/** What a format that keeps the source's size and samples most often meets. */
const typicalSource = { width: 1920, height: 1080, pixelFormat: 'yuv422p10le' } as const;

/** Settings for the codecs that no built-in format uses. A studio's own format may. */
const otherSpecs: Readonly<Record<'h264' | 'av1' | 'prores', Partial<PictureSpec>>> = {
  h264: { pixelFormat: 'yuv420p', quality: 23, preset: 'fast' },
  av1: { pixelFormat: 'yuv420p10le', quality: 35, preset: '8' },
  prores: { pixelFormat: 'yuv422p10le', profile: 'proxy' },
};

/** The built-in formats of a codec; for a codec without any, a stand-in that is only good for the proof. */
export function specsOf(codec: PictureCodec): PictureSpec[] {
  const specs = builtInFormats.filter(({ picture }) => picture.codec === codec).map(({ picture }) => picture);
  if (specs.length > 0) return specs;
  const other = codec === 'h264' || codec === 'av1' || codec === 'prores' ? otherSpecs[codec] : {};
  return [
    {
      codec,
      size: 'source',
      rate: 'source',
      interlace: 'keep',
      hdr: 'keep',
      gopSeconds: 1,
      pixelFormat: 'yuv420p',
      ...other,
    },
  ];
}

/** The size at which a format's rate is measured: the largest that it is for. */
export function calibrationSize({ picture }: Pick<HouseFormat, 'picture'>): Size {
  return picture.size === 'source' ? typicalSource : picture.size;
}

/** Arguments from `-c:v` on, as a real segment would have them. */
export function trialEncoderArgs(spec: PictureSpec): string[] {
  return encoderArgs({
    spec,
    way: {
      pixelFormat: pixelFormatOf(spec),
      hdr: null,
      fieldOrder: 'progressive',
    },
    gopFrames: Math.max(1, Math.round(spec.gopSeconds * trialRate)),
  });
}

function pixelFormatOf({ pixelFormat }: PictureSpec): string {
  return pixelFormat === 'source' ? typicalSource.pixelFormat : pixelFormat;
}

/** Clean moving pictures without end, the same at every run: what comes back from a decoder can be compared with them. */
export function cleanPictures({ width, height }: Size): string {
  return `testsrc2=size=${width}x${height}:rate=${trialRate}`;
}

/** Frames of the loop below: enough motion for an encoder, few enough for the memory of a small machine. */
const loopFrames = 12;

/**
 * Moving pictures with grain like a camera's, which encoders find as hard as real ones. Made once and then repeated,
 * so that making them takes no time from the encoder that is measured.
 */
export function grainyPictures(size: Size, spec: PictureSpec): string {
  return `${cleanPictures(size)},noise=alls=8:allf=t,format=${pixelFormatOf(spec)},loop=loop=-1:size=${loopFrames}`;
}
