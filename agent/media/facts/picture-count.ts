// How many pictures a track shows: from its packets where a packet is a picture, else by decoding them all.
import type { PacketCounts, PacketOrder } from './picture-packets.ts';

/**
 * Codecs of which every presented packet decodes to one picture. Others hide pictures (VP8, VP9), pack two in a
 * packet (MPEG-4 in AVI) or leave some out (Theora), or nobody has looked.
 */
const onePictureAPacket = new Set(
  (
    'h264 hevc av1 mpeg1video mpeg2video vvc prores dnxhd mjpeg ffv1 dvvideo jpeg2000 cfhd ' +
    'hap png tiff rawvideo v210 v410 r210 huffyuv ffvhuff utvideo magicyuv'
  ).split(' '),
);

/** Why the packets of a track don't tell its pictures; null when they do. */
export function whyDecodeAll(
  codec: string,
  order: PacketOrder,
  demuxerMessages: readonly string[],
): string | null {
  const { counts } = order;
  if (!onePictureAPacket.has(codec)) return `packets of ${codec} are not always one picture each`;
  if (counts.withoutTime > 0) return `${counts.withoutTime} packets have no timestamp`;
  if (counts.discarded > 0) return 'an edit list hides pictures';
  if (counts.backwards > 0) return 'the timestamps run backwards';
  if (counts.corrupt > 0) return `${counts.corrupt} packets are flagged corrupt`;
  if (hasDoubles(order.pts)) return 'packets share a timestamp';
  return demuxerMessages.length > 0 ? `the wrapper is damaged (${demuxerMessages[0]})` : null;
}

/**
 * The pictures from the first keyframe on, where a file begins in the middle of a group of pictures: some decoders show
 * what they can guess of the pictures before. `pts` rising.
 */
export function fromFirstKeyframe(order: PacketOrder, pts: Float64Array): Float64Array {
  const first = order.keyTicks[0];
  if (order.beginsWithKeyframe || first === undefined) return pts;
  const index = pts.findIndex((time) => time >= first);
  return index < 0 ? pts : pts.subarray(index);
}

/**
 * Compares the first decoded pictures with the packets. Returns how many packets at the head show nothing (they refer
 * to pictures before the cut), or null when anything else differs, so that all must be decoded.
 */
export function undecodableHead(packets: Float64Array, decoded: Float64Array): number | null {
  const first = packets.indexOf(decoded[0] ?? Number.NaN);
  if (first < 0) return null;
  return decoded.every((time, i) => packets[first + i] === time) ? first : null;
}

/** Damage in words, for a full decode; null when there is none. `messages`: lines of the decoder that tell of damage. */
export function damageOf(counts: PacketCounts, decoded: number, messages: readonly string[]): string | null {
  const lost = counts.packets - counts.discarded - decoded;
  if (messages.length === 0) return null;
  const pictures =
    lost > 0
      ? `${lost} of ${counts.packets - counts.discarded} pictures do not decode`
      : 'pictures decode with errors';
  return `damaged: ${pictures}; the decoder's first message is "${plainMessage(messages[0] ?? '')}"`;
}

function hasDoubles(pts: Float64Array): boolean {
  return pts.some((time, i) => i > 0 && time === pts[i - 1]);
}

/** Without the address that ffmpeg prints with a codec's name, which differs from run to run, and without paths. */
export function plainMessage(message: string): string {
  return message
    .replace(/ @ 0x[0-9a-f]+/g, '')
    .replace(/file:\S+/g, 'the file')
    .trim();
}
