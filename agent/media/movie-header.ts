// What the movie header of an ISO base media file says of its picture track: the sample descriptions, which players read
// once, and the number of samples.
import { type Box, boxesIn, boxInside, fourLetters } from './iso-boxes.ts';

export type PictureHeader = {
  /** One a sample description, in order. */
  readonly descriptions: readonly SampleDescription[];
  /** Samples (pictures) in the track. */
  readonly samples: number;
};

export type SampleDescription = {
  /** Four letters: `avc1`, `hvc1`, `AVdh` … */
  readonly name: string;
  /** Everything that it says of the stream, as hexadecimal text: size, parameter sets, aspect, colour, field order. */
  readonly content: string;
};

/** `moov`: a whole `moov` box. Null when it has no picture track. */
export function readPictureHeader(moov: Uint8Array): PictureHeader | null {
  const view = new DataView(moov.buffer, moov.byteOffset, moov.byteLength);
  const [movie] = boxesIn(view, 0, moov.byteLength);
  const tracks =
    movie === undefined ? [] : boxesIn(view, movie.bodyStart, movie.end).filter((box) => box.type === 'trak');
  const track = tracks.find((one) => handlerOf(view, one) === 'vide');
  const table = track ? boxInside(view, track, ['mdia', 'minf', 'stbl']) : null;
  const descriptions = table ? boxInside(view, table, ['stsd']) : null;
  const sizes = table ? boxInside(view, table, ['stsz']) : null;
  if (descriptions === null || sizes === null) return null;
  // `stsd`: version and flags, entry count. `stsz`: version and flags, common size, sample count.
  const entries = boxesIn(view, descriptions.bodyStart + 8, descriptions.end);
  return {
    descriptions: entries.map((entry) => ({ name: entry.type, content: contentOf(view, entry) })),
    samples: view.getUint32(sizes.bodyStart + 8),
  };
}

/** Length of the fields that every visual sample entry begins with, after its box header. */
const visualFields = 78;
/** Says how many bits a second there are: another number in every grain, nothing about the kind of stream. */
const bitRateBox = 'btrt';

function contentOf(view: DataView, entry: Box): string {
  const parts = boxesIn(view, entry.bodyStart + visualFields, entry.end).filter(
    (box) => box.type !== bitRateBox,
  );
  return [
    hex(view, entry.bodyStart, entry.bodyStart + visualFields),
    ...parts.map((box) => hex(view, box.start, box.end)),
  ].join(' ');
}

function hex(view: DataView, start: number, end: number): string {
  let text = '';
  for (let at = start; at < Math.min(end, view.byteLength); at += 1)
    text += view.getUint8(at).toString(16).padStart(2, '0');
  return text;
}

function handlerOf(view: DataView, track: Box): string | null {
  const handler = boxInside(view, track, ['mdia', 'hdlr']);
  return handler === null ? null : fourLetters(view, handler.bodyStart + 8);
}
