// Reading numbers and texts out of raw bytes; missing bytes read as zero and as an empty text.

/** True when `head` has the bytes `wanted` at `offset`. */
export function startsWith(head: Uint8Array, wanted: readonly number[], offset = 0): boolean {
  return wanted.every((byte, i) => head[offset + i] === byte);
}

/** Bytes as Latin-1 text. */
export function textAt(head: Uint8Array, offset: number, length: number): string {
  return String.fromCharCode(...head.subarray(offset, offset + length));
}

/** Unsigned, most significant byte first; up to 8 bytes. Exact below 2^53, which no file size reaches. */
export function bigEndian(head: Uint8Array, offset: number, length: number): number {
  let value = 0;
  for (let i = 0; i < length; i += 1) value = value * 256 + (head[offset + i] ?? 0);
  return value;
}

/** Unsigned, least significant byte first; up to 8 bytes. */
export function littleEndian(head: Uint8Array, offset: number, length: number): number {
  let value = 0;
  for (let i = length - 1; i >= 0; i -= 1) value = value * 256 + (head[offset + i] ?? 0);
  return value;
}
