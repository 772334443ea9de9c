// The EBML header and the Segment of a Matroska or WebM file (RFC 8794, RFC 9559): one element that holds the rest.

import type { ByteSource, LengthCheck } from './byte-source.ts';
import { bigEndian } from './bytes.ts';

const ids = { ebml: 0x1a45dfa3, segment: 0x18538067 } as const;

export async function checkSegment(file: ByteSource): Promise<LengthCheck> {
  let at = 0;
  // Before the Segment there are the EBML header and perhaps some padding.
  for (let count = 0; count < 8 && at < file.bytes; count += 1) {
    const element = readElement(await file.read(at, 16));
    if (!element) return { kind: 'silent' };
    if (element.size === null) return { kind: 'silent' };
    const end = at + element.headerBytes + element.size;
    if (element.id === ids.segment) {
      if (end <= file.bytes) return { kind: 'kept' };
      return { kind: 'broken', what: `its segment ends at byte ${end}, the file at ${file.bytes}` };
    }
    at = end;
  }
  return { kind: 'silent' };
}

/** Id and size of the element whose header `head` is; `size` null when unknown, as in live recordings. */
function readElement(head: Uint8Array): { id: number; size: number | null; headerBytes: number } | null {
  const idBytes = lengthOf(head[0] ?? 0);
  const sizeBytes = lengthOf(head[idBytes] ?? 0);
  if (idBytes > 4 || sizeBytes > 8 || idBytes + sizeBytes > head.length) return null;
  // The marker bit of the length itself is taken off; all other bits set mean "unknown".
  const mask = 2 ** (8 - sizeBytes) - 1;
  const first = (head[idBytes] ?? 0) & mask;
  const rest = head.subarray(idBytes + 1, idBytes + sizeBytes);
  const unknown = first === mask && rest.every((byte) => byte === 0xff);
  const size = first * 256 ** rest.length + bigEndian(rest, 0, rest.length);
  return { id: bigEndian(head, 0, idBytes), size: unknown ? null : size, headerBytes: idBytes + sizeBytes };
}

/** Bytes of a variable-length integer by its first byte: leading zero bits plus one; 9 when there is no marker bit. */
function lengthOf(first: number): number {
  return Math.clz32(first) - 24 + 1;
}
