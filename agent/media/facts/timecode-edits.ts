// Where the timecode tracks of a QuickTime file begin. A trimmed film keeps its whole timecode and hides the head by an
// edit list (ISO/IEC 14496-12, 8.6.6), which ffmpeg's first label does not regard.
import { type Rational, rational, subtract } from '#shared/rational.ts';
import type { ByteSource } from './byte-source.ts';
import { bigEndian, textAt } from './bytes.ts';
import { type Box, boxesAt } from './iso-boxes.ts';

/** Presentation time of the first label of each timecode track, seconds, in the order of the tracks. */
export async function timecodeStarts(file: ByteSource): Promise<readonly Rational[]> {
  const movieScale = await timescale(file, ['moov', 'mvhd']);
  const starts: Rational[] = [];
  for await (const track of boxesAt(file, ['moov', 'trak'])) {
    if (await isTimecode(file, track)) starts.push(await startOf(file, track, movieScale));
  }
  return starts;
}

async function isTimecode(file: ByteSource, track: Box): Promise<boolean> {
  for await (const description of boxesAt(file, ['mdia', 'minf', 'stbl', 'stsd'], track)) {
    return textAt(await file.read(description.content, 16), 12, 4) === 'tmcd';
  }
  return false;
}

/** Empty edits delay the track; the first other edit begins within its media. */
async function startOf(file: ByteSource, track: Box, movieScale: number): Promise<Rational> {
  const mediaScale = await timescale(file, ['mdia', 'mdhd'], track);
  let delay = 0;
  for await (const list of boxesAt(file, ['edts', 'elst'], track)) {
    const bytes = await file.read(list.content, Math.min(list.end - list.content, 4096));
    const wide = bytes[0] === 1 ? 8 : 4;
    for (let at = 8; at + 2 * wide <= bytes.length; at += 2 * wide + 4) {
      const mediaTime = bigEndian(bytes, at + wide, wide);
      const empty = (bytes[at + wide] ?? 0) === 0xff;
      if (!empty) return subtract(rational(delay, movieScale), rational(mediaTime, mediaScale));
      delay += bigEndian(bytes, at, wide);
    }
  }
  return rational(0);
}

/** Ticks a second, from a header box of version 0 or 1. */
async function timescale(file: ByteSource, path: readonly string[], within?: Box): Promise<number> {
  for await (const header of boxesAt(file, path, within)) {
    const bytes = await file.read(header.content, 32);
    return bigEndian(bytes, bytes[0] === 1 ? 20 : 12, 4) || 1;
  }
  return 1;
}
