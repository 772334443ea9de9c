// What a wrapper says about its own length, compared with the file: finds a cut copy in milliseconds, where a decoder
// would play the part that is there and call it a success.
import type { ByteSource, LengthCheck } from './byte-source.ts';
import { bigEndian, littleEndian, startsWith, textAt } from './bytes.ts';
import { checkBoxes } from './iso-boxes.ts';
import { checkSegment } from './matroska-segment.ts';
import { partitionPackOffset, type Wrapper } from './sniff-file.ts';

export function checkLength(file: ByteSource, wrapper: Wrapper): Promise<LengthCheck> {
  switch (wrapper) {
    case 'iso':
      return checkBoxes(file);
    case 'matroska':
      return checkSegment(file);
    case 'avi':
      return checkRiff(file);
    case 'mxf':
      return checkPartitions(file);
    case 'asf':
      return checkFileProperties(file);
    case 'plain':
      return Promise.resolve({ kind: 'silent' });
  }
}

/** RIFF chunks at the top level, one after the other (OpenDML files have several). */
async function checkRiff(file: ByteSource): Promise<LengthCheck> {
  let at = 0;
  while (at + 12 <= file.bytes) {
    const head = await file.read(at, 12);
    if (textAt(head, 0, 4) !== 'RIFF') break;
    const size = littleEndian(head, 4, 4);
    // A recorder that lost power leaves the size at zero; the decoder then reads to the end.
    if (size === 0) return { kind: 'silent' };
    const end = at + 8 + size;
    // Some writers count the eight bytes of the chunk header twice.
    if (end > file.bytes + 8)
      return { kind: 'broken', what: `its RIFF chunk ends at byte ${end}, the file at ${file.bytes}` };
    at = end + (size % 2);
  }
  return { kind: 'kept' };
}

/** SMPTE ST 377-1: a closed header partition tells where the footer partition stands. */
async function checkPartitions(file: ByteSource): Promise<LengthCheck> {
  const runIn = partitionPackOffset(await file.read(0, 64 * 1024)) ?? 0;
  const pack = await file.read(runIn, 64);
  const lengthBytes = (pack[16] ?? 0) >= 0x80 ? 1 + ((pack[16] ?? 0) & 0x7f) : 1;
  const footer = bigEndian(pack, 16 + lengthBytes + 24, 8);
  if (footer === 0) return { kind: 'silent' };
  const at = runIn + footer;
  if (at + 16 <= file.bytes) return { kind: 'kept' };
  return {
    kind: 'broken',
    what: `its closing partition stands at byte ${at}, the file ends at ${file.bytes}`,
  };
}

const filePropertiesId = [
  0xa1, 0xdc, 0xab, 0x8c, 0x47, 0xa9, 0xcf, 0x11, 0x8e, 0xe4, 0x00, 0xc0, 0x0c, 0x20, 0x53, 0x65,
];

/** ASF file properties object: file size after two GUIDs and a size; bit 0 of the flags marks a live recording. */
async function checkFileProperties(file: ByteSource): Promise<LengthCheck> {
  const head = await file.read(0, 64 * 1024);
  for (let at = head.indexOf(0xa1); at >= 0; at = head.indexOf(0xa1, at + 1)) {
    if (!startsWith(head, filePropertiesId, at)) continue;
    const size = littleEndian(head, at + 40, 8);
    if ((littleEndian(head, at + 88, 4) & 1) === 1 || size === 0) return { kind: 'silent' };
    return size > file.bytes
      ? { kind: 'broken', what: `its header tells of ${size} bytes, the file has ${file.bytes}` }
      : { kind: 'kept' };
  }
  return { kind: 'silent' };
}
