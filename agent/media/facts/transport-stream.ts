// MPEG transport streams (ISO/IEC 13818-1) have no header, only a sync byte in every packet.

const syncByte = 0x47;
/** Plain, with a four-byte time code before each packet (AVCHD, Blu-ray), with 16 bytes of error correction. */
const packetSizes = [188, 192, 204] as const;
const packetsSeen = 5;

/** The packet size when five packets in a row start with the sync byte, wherever in a packet the file begins; else null. */
export function transportPacketBytes(head: Uint8Array): number | null {
  for (const size of packetSizes) {
    for (let first = 0; first < size; first += 1) {
      const synced = Array.from({ length: packetsSeen }, (_, i) => head[first + i * size] === syncByte);
      if (synced.every(Boolean)) return size;
    }
  }
  return null;
}
