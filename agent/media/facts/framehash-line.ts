// Lines of ffmpeg's framehash listing, and the messages of a decoder that mean damage.

/** A decoded picture: its time in ticks, and a number made of its pixels' hash. */
export type HashedPicture = { readonly ticks: number; readonly hash: number };

/** `0, dts, pts, duration, size, hash`. Null for the header's lines (`#…`) and anything else. */
export function parseFramehashLine(line: string): HashedPicture | null {
  const match = /^\d+,\s*-?\d+,\s*(-?\d+),\s*\d+,\s*\d+,\s*([0-9a-f]{13})[0-9a-f]*$/.exec(line);
  // 52 bits of the hash fit a number: a chance of 2^-52 that two different pictures look equal is no worry here.
  return match ? { ticks: Number(match[1]), hash: Number.parseInt(match[2] ?? '', 16) } : null;
}

/** True for a message (with its level, as `-loglevel level+warning` writes it) that tells of lost or changed bytes. */
export function tellsOfDamage(line: string): boolean {
  return damage.some((pattern) => pattern.test(line));
}

// From ffmpeg's messages. Not among them: references that are missing after a start in mid-stream, which is no damage.
const damage = [
  /corrupt (decoded frame|input packet)|Packet corrupt|CRC mismatch/,
  /Error (while decoding stream|submitting packet to decoder)/,
  /error while decoding MB|concealing \d+|(ac-tex|dc|mb|slice|mv) damaged|invalid (dc|ac) (code|coef)/i,
  /Invalid NAL unit size|missing picture in access unit|partial file/,
  /exceeds (containing master element|max length)|invalid as first byte of an EBML number/,
];
