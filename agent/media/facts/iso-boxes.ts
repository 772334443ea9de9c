// The boxes of an ISO base media or QuickTime file (ISO/IEC 14496-12): together they are as long as the file.

import type { ByteSource, LengthCheck } from './byte-source.ts';
import { bigEndian, textAt } from './bytes.ts';

const knownBoxes = new Set(
  'ftyp styp moov moof mfra mdat free skip wide pnot uuid meta udta sidx ssix pdin prft emsg'.split(' '),
);

/** One small read a box: a long recording in fragments has some ten thousand. */
const mostBoxes = 100_000;

export async function checkBoxes(file: ByteSource): Promise<LengthCheck> {
  let at = 0;
  let hasIndex = false;
  for (let count = 0; count < mostBoxes && at + 8 <= file.bytes; count += 1) {
    const head = await file.read(at, 16);
    const type = textAt(head, 4, 4);
    const size = boxBytes(head, file.bytes - at);
    // What follows the last box isn't the wrapper's: cameras append data of their own.
    if (!knownBoxes.has(type) || size === null) break;
    if (type === 'moov' || type === 'moof') hasIndex = true;
    at += size;
    if (at > file.bytes) {
      return { kind: 'broken', what: `its ${type} box ends at byte ${at}, the file at ${file.bytes}` };
    }
  }
  if (hasIndex) return { kind: 'kept' };
  return {
    kind: 'broken',
    what: 'it has no index (moov box), because the recording or the copy was not finished',
  };
}

/** 0 means to the end of the file, 1 that a 64-bit size follows the type. Null for a size smaller than its own header. */
function boxBytes(head: Uint8Array, rest: number): number | null {
  const short = bigEndian(head, 0, 4);
  if (short === 0) return rest;
  const size = short === 1 ? bigEndian(head, 8, 8) : short;
  return size >= (short === 1 ? 16 : 8) ? size : null;
}
