// Output size: fitted into the format's class without enlarging, square samples, even numbers where the codec needs them.
import type { PictureFacts } from '#shared/facts.ts';
import type { PictureCodec, PictureSpec } from '#shared/house-format.ts';
import { divide, multiply, type Rational, rational, toNumber } from '#shared/rational.ts';

export type PictureSize = {
  readonly width: number;
  readonly height: number;
  readonly sampleAspect: Rational;
  /** False when nothing has to be scaled. */
  readonly scale: boolean;
  readonly note: string | null;
};

/** Smallest pictures that the encoders take, samples (measured with ffmpeg 5.1: VC-3 256 × 120; from memory: AV1 64 × 64). */
const smallest: Partial<Record<PictureCodec, readonly [number, number]>> = { vc3: [256, 120], av1: [64, 64] };

export function pictureSize(picture: PictureFacts, spec: PictureSpec): PictureSize {
  const upright = turn(picture);
  return spec.size === 'source' ? keepSize(upright, spec.codec) : fitSize(upright, spec.codec, spec.size);
}

type Upright = { readonly width: number; readonly height: number; readonly sampleAspect: Rational };

/** Size as it stands after the rotation that a player would apply; we always bake it in. */
function turn(picture: PictureFacts): Upright {
  const { width, height, sampleAspect } = picture;
  if (picture.rotation % 180 === 0) return { width, height, sampleAspect };
  return { width: height, height: width, sampleAspect: divide(rational(1), sampleAspect) };
}

function keepSize(upright: Upright, codec: PictureCodec): PictureSize {
  const { width, height, sampleAspect } = upright;
  const even = codec === 'ffv1' || (width % 2 === 0 && height % 2 === 0);
  if (even) return { width, height, sampleAspect, scale: false, note: null };
  const to = { width: Math.max(2, width - (width % 2)), height: Math.max(2, height - (height % 2)) };
  return {
    ...to,
    sampleAspect,
    scale: true,
    note: `${width}×${height} became ${to.width}×${to.height}: the codec needs even sizes`,
  };
}

function fitSize(upright: Upright, codec: PictureCodec, box: { width: number; height: number }): PictureSize {
  const display = { width: upright.width * toNumber(upright.sampleAspect), height: upright.height };
  // A portrait picture is fitted into the class turned on its side, so that it keeps the same detail.
  const portrait = display.height > display.width;
  const limit = portrait ? { width: box.height, height: box.width } : box;
  const [leastWidth, leastHeight] = smallest[codec] ?? [2, 2];
  const shrink = Math.min(1, limit.width / display.width, limit.height / display.height);
  const enlarge = Math.max(1, leastWidth / (display.width * shrink), leastHeight / (display.height * shrink));
  const factor = shrink * enlarge;
  const width = toEven(display.width * factor);
  const height = toEven(display.height * factor);
  return {
    width,
    height,
    sampleAspect: squareUnlessDistorted(width, height, upright),
    scale: width !== upright.width || height !== upright.height,
    note:
      enlarge > 1
        ? `the picture was enlarged to ${width}×${height}, the smallest that the codec takes`
        : null,
  };
}

/** Even sizes bend the aspect a little; beyond 0.5 % it is carried as a sample aspect instead. */
function squareUnlessDistorted(width: number, height: number, upright: Upright): Rational {
  const display = multiply(rational(upright.width, upright.height), upright.sampleAspect);
  const exact = divide(display, rational(width, height));
  return Math.abs(toNumber(exact) - 1) > 0.005 ? exact : rational(1);
}

function toEven(size: number): number {
  return Math.max(2, Math.round(size / 2) * 2);
}
