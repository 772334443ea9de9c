// What a picture track says of itself: colour, depth, field order, turn, sample shape. Each is a small decision
// between what the wrapper claims and what the decoded pictures carry.

import type { Colour, PictureFacts } from '#shared/facts.ts';
import { parseRational, type Rational, rational } from '#shared/rational.ts';
import { type ProbeFrame, type ProbeStream, sideField } from './probe-report.ts';

type Labelled = Pick<
  ProbeStream,
  'color_primaries' | 'color_transfer' | 'color_space' | 'color_range' | 'chroma_location'
>;

/** The track's labels (ffmpeg's names of ITU-T H.273 code points); the first picture's where the track says nothing. */
export function colourOf(track: Labelled, first: Labelled = {}): Colour {
  const range = known(track.color_range) ?? known(first.color_range);
  return {
    primaries: known(track.color_primaries) ?? known(first.color_primaries),
    transfer: known(track.color_transfer) ?? known(first.color_transfer),
    matrix: known(track.color_space) ?? known(first.color_space),
    range: range === 'tv' || range === 'pc' ? range : null,
    chromaLocation: known(track.chroma_location) ?? known(first.chroma_location),
  };
}

/** Bits of one component: what the codec says where that is less than its sample format holds, else the format's depth. */
export function bitDepthOf(pixelFormat: string, rawBits: number | undefined): number {
  const depth = formatDepth(pixelFormat);
  return rawBits !== undefined && rawBits > 0 && rawBits < depth ? rawBits : depth;
}

/**
 * Field order as displayed. Decoded pictures are believed before the wrapper, where the codec marks them; `claim` is
 * ffprobe's name: tt and bt show the top field first, bb and tb the bottom field.
 */
export function fieldOrderOf(
  claim: string | undefined,
  frames: readonly ProbeFrame[],
  codec: string,
): { order: PictureFacts['fieldOrder']; odd: string | null } {
  const claimed = claimedOrder(claim);
  const interlaced = frames.filter((frame) => frame.interlaced_frame === 1);
  if (interlaced.length > 0) {
    const top = interlaced.filter((frame) => frame.top_field_first === 1).length;
    return { order: 2 * top >= interlaced.length ? 'top-first' : 'bottom-first', odd: null };
  }
  if (frames.length === 0 || !marksFields.has(codec)) return { order: claimed, odd: null };
  const odd =
    claimed === 'progressive'
      ? null
      : 'the wrapper says interlaced, but the pictures say progressive; the pictures are believed';
  return { order: 'progressive', odd };
}

/** Clockwise degrees that a player turns the picture, and whether it is also mirrored or turned by an odd angle. */
export function rotationOf(track: ProbeStream): { degrees: PictureFacts['rotation']; odd: string | null } {
  const matrix = track.side_data_list.find((data) => data.side_data_type === 'Display Matrix');
  if (!matrix) return { degrees: 0, odd: null };
  // ffmpeg tells the turn counter-clockwise.
  const clockwise = ((-Number(sideField(matrix, 'rotation')) % 360) + 360) % 360 || 0;
  const nearest = (Math.round(clockwise / 90) * 90) % 360;
  const degrees = nearest === 90 || nearest === 180 || nearest === 270 ? nearest : 0;
  if (isMirrored(sideField(matrix, 'displaymatrix')))
    return { degrees, odd: 'the picture is mirrored by its display matrix' };
  const off = Math.min(Math.abs(clockwise - nearest), 360 - Math.abs(clockwise - nearest));
  return { degrees, odd: off > 0.5 ? `the picture is turned by ${clockwise}°, taken as ${degrees}°` : null };
}

/** Width to height of a sample; 1/1 where nothing or nonsense is said. */
export function sampleAspectOf(text: string | undefined): Rational {
  const ratio = parseRational(text ?? '');
  return ratio && ratio.num > 0 ? ratio : rational(1);
}

/** Codecs whose bitstream tells of each picture whether it is interlaced; the others leave it to the wrapper. */
const marksFields = new Set(['h264', 'mpeg1video', 'mpeg2video', 'prores', 'dnxhd', 'vc1', 'dvvideo']);

function claimedOrder(claim: string | undefined): PictureFacts['fieldOrder'] {
  if (claim === 'tt' || claim === 'bt') return 'top-first';
  return claim === 'bb' || claim === 'tb' ? 'bottom-first' : 'progressive';
}

function known(label: string | undefined): string | null {
  return label === undefined || ['unknown', 'unspecified', 'reserved', 'N/A', ''].includes(label)
    ? null
    : label;
}

function formatDepth(format: string): number {
  // yuv420p10le, gray12be, gbrap16le, p010le, p416le, x2rgb10le, rgb48le, xyz12le, bayer_rggb16le …
  if (/^(rgb|bgr)48|^(rgba|bgra)64|^ya16/.test(format)) return 16;
  if (/f32(le|be)$/.test(format)) return 32;
  if (format.startsWith('nv20')) return 10;
  const semiPlanar = /^[py][024](\d\d)(le|be)$/.exec(format);
  const named = semiPlanar ?? /(\d\d?)(le|be)$/.exec(format);
  const depth = Number(named?.[1] ?? 8);
  return depth >= 9 && depth <= 16 ? depth : 8;
}

/** A matrix with a negative determinant mirrors. The text has three rows `00000000: a b u`. */
function isMirrored(text: string): boolean {
  const [a = 1, b = 0, , c = 0, d = 1] = [...text.matchAll(/\s(-?\d+)(?=\s|$)/g)].map((match) =>
    Number(match[1]),
  );
  return a * d - b * c < 0;
}
