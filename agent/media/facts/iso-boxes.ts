// The boxes of an ISO base media or QuickTime file (ISO/IEC 14496-12): together they are as long as the file, and the
// sample descriptions among them tell whether a picture track is encrypted.
import type { ByteSource, LengthCheck } from './byte-source.ts';
import { bigEndian, textAt } from './bytes.ts';

export type Box = {
  readonly type: string;
  /** Where its content begins, and the first byte after it. */
  readonly content: number;
  readonly end: number;
};

const knownBoxes = new Set(
  'ftyp styp moov moof mfra mdat free skip wide pnot uuid meta udta sidx ssix pdin prft emsg'.split(' '),
);

/** One small read a box: a long recording in fragments has some ten thousand. */
const mostBoxes = 100_000;

export async function checkBoxes(file: ByteSource): Promise<LengthCheck> {
  let hasIndex = false;
  for await (const box of boxesIn(file, 0, file.bytes)) {
    // What follows the last box isn't the wrapper's: cameras append data of their own.
    if (!knownBoxes.has(box.type)) break;
    if (box.type === 'moov' || box.type === 'moof') hasIndex = true;
    if (box.end > file.bytes) {
      return {
        kind: 'broken',
        what: `its ${box.type} box ends at byte ${box.end}, the file at ${file.bytes}`,
      };
    }
  }
  if (hasIndex) return { kind: 'kept' };
  return {
    kind: 'broken',
    what: 'it has no index (moov box), because the recording or the copy was not finished',
  };
}

/** True when a picture track's sample entry is `encv`, common encryption (ISO/IEC 23001-7). */
export async function hasEncryptedPicture(file: ByteSource): Promise<boolean> {
  for await (const description of boxesAt(file, ['moov', 'trak', 'mdia', 'minf', 'stbl', 'stsd'])) {
    // Version and flags, number of entries, then the first entry.
    const head = await file.read(description.content, 16);
    if (textAt(head, 12, 4) === 'encv') return true;
  }
  return false;
}

/** Every box at `path`, type by type, below `within` or the file itself. */
export async function* boxesAt(file: ByteSource, path: readonly string[], within?: Box): AsyncGenerator<Box> {
  const [type, ...rest] = path;
  for await (const box of boxesIn(file, within?.content ?? 0, within?.end ?? file.bytes)) {
    if (box.type !== type) continue;
    if (rest.length === 0) yield box;
    else yield* boxesAt(file, rest, box);
  }
}

/** Boxes one after the other; ends at the first that can't be one. */
async function* boxesIn(file: ByteSource, from: number, end: number): AsyncGenerator<Box> {
  let at = from;
  for (let count = 0; count < mostBoxes && at + 8 <= end; count += 1) {
    const head = await file.read(at, 16);
    const short = bigEndian(head, 0, 4);
    const headerBytes = short === 1 ? 16 : 8;
    // 0 means to the end, 1 that a 64-bit size follows the type.
    const size = short === 0 ? end - at : short === 1 ? bigEndian(head, 8, 8) : short;
    if (size < headerBytes) return;
    yield { type: textAt(head, 4, 4), content: at + headerBytes, end: at + size };
    at += size;
  }
}
