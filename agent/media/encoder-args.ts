// House format → the encoder's own settings. Closed groups of pictures with keyframes only where planned, so that every
// grain stands alone; parameter sets only in the sample description (N3).
import { assertNever } from '#shared/errors.ts';
import type { Hdr } from '#shared/facts.ts';
import type { PictureCodec, PictureSpec } from '#shared/house-format.ts';
import type { PictureWay } from '#shared/plan.ts';
import { type Rational, toNumber } from '#shared/rational.ts';

export type EncoderRequest = {
  readonly spec: PictureSpec;
  readonly way: Pick<PictureWay, 'pixelFormat' | 'hdr' | 'fieldOrder'>;
  readonly gopFrames: number;
};

/** ffmpeg's software encoder for each codec. */
export const softwareEncoders: Readonly<Record<PictureCodec, string>> = {
  vc3: 'dnxhd',
  prores: 'prores_ks',
  h264: 'libx264',
  h265: 'libx265',
  av1: 'libsvtav1',
  ffv1: 'ffv1',
};

export function encoderArgs({ spec, way, gopFrames }: EncoderRequest): string[] {
  return [
    ...['-c:v', softwareEncoders[spec.codec], '-pix_fmt', way.pixelFormat],
    ...codecArgs({ spec, way, gopFrames }),
    ...withoutParameterSets(spec.codec),
    ...(way.fieldOrder === 'progressive'
      ? []
      : ['-field_order', way.fieldOrder === 'top-first' ? 'tt' : 'bb']),
  ];
}

function codecArgs({ spec, way, gopFrames }: EncoderRequest): string[] {
  const quality = spec.quality === undefined ? [] : ['-crf', String(spec.quality)];
  const preset = spec.preset === undefined ? [] : ['-preset', spec.preset];
  const gop = [
    '-g',
    String(gopFrames),
    '-keyint_min',
    String(gopFrames),
    '-force_key_frames',
    `expr:eq(mod(n,${gopFrames}),0)`,
  ];
  switch (spec.codec) {
    case 'vc3':
      return ['-profile:v', spec.profile ?? 'dnxhr_lb'];
    case 'prores':
      return ['-profile:v', spec.profile ?? 'standard', '-vendor', 'apl0'];
    case 'ffv1':
      return ['-level', '3', '-slicecrc', '1', '-slices', '4', '-g', '1'];
    case 'h264':
      return [
        ...preset,
        ...quality,
        ...gop,
        '-flags',
        '+cgop',
        '-x264-params',
        'open-gop=0:scenecut=0',
        '-tag:v',
        'avc1',
      ];
    case 'h265':
      return [...preset, ...quality, ...gop, '-x265-params', x265Params(way.hdr), '-tag:v', 'hvc1'];
    case 'av1':
      return [...preset, ...quality, '-g', String(gopFrames), ...svtParams(way.hdr)];
    default:
      return assertNever(spec.codec);
  }
}

function x265Params(hdr: Hdr | null): string {
  // A scene cut just before a border would swallow the keyframe there; the info message names the machine's threads, so
  // that no two machines would write the same configuration.
  const fixed = [
    'open-gop=0',
    'scenecut=0',
    'repeat-headers=0',
    'info=0',
    'log-level=error',
    ...(hdr ? ['hdr10=1'] : []),
  ];
  return [
    ...fixed,
    ...hdrParams(hdr, { master: 'master-display', light: 'max-cll', scale: 50_000, luminance: 10_000 }),
  ].join(':');
}

function svtParams(hdr: Hdr | null): string[] {
  const params = hdrParams(hdr, {
    master: 'mastering-display',
    light: 'content-light',
    scale: 1,
    luminance: 1,
  });
  return params.length === 0 ? [] : ['-svtav1-params', [...params, 'enable-hdr=1'].join(':')];
}

/** SMPTE ST 2086: x265 counts chromaticity in 1/50 000 and luminance in 1/10 000 cd/m²; SVT-AV1 takes plain numbers. */
function hdrParams(
  hdr: Hdr | null,
  as: { master: string; light: string; scale: number; luminance: number },
): string[] {
  const params: string[] = [];
  const display = hdr?.masteringDisplay;
  if (display) {
    const number = (value: Rational, scale: number) =>
      scale === 1 ? toNumber(value).toFixed(4) : String(Math.round(toNumber(value) * scale));
    const point = ([x, y]: readonly [Rational, Rational]) =>
      `(${number(x, as.scale)},${number(y, as.scale)})`;
    const light = `(${number(display.maxLuminance, as.luminance)},${number(display.minLuminance, as.luminance)})`;
    params.push(
      `${as.master}=G${point(display.green)}B${point(display.blue)}R${point(display.red)}WP${point(display.white)}L${light}`,
    );
  }
  if (hdr?.contentLight)
    params.push(`${as.light}=${hdr.contentLight.maxContent},${hdr.contentLight.maxAverage}`);
  return params;
}

/** Unit types of parameter sets in the stream. */
const parameterSets: Partial<Readonly<Record<PictureCodec, string>>> = { h264: '7-8|13|15', h265: '32-34' };

/** Some encoders repeat them in every keyframe (x265 as soon as it has HDR data); they belong in the description only. */
function withoutParameterSets(codec: PictureCodec): string[] {
  const types = parameterSets[codec];
  return types === undefined ? [] : ['-bsf:v', `filter_units=remove_types=${types}`];
}
