// Reading sample descriptions, on boxes built by hand after ISO/IEC 14496-12.
import { describe, expect, it } from 'vitest';
import { boxAt, boxesIn } from '../../../../agent/media/iso-boxes.ts';
import { readPictureHeader } from '../../../../agent/media/movie-header.ts';

const letters = (text: string) => Array.from(new TextEncoder().encode(text));

function box(type: string, ...parts: readonly (Uint8Array | readonly number[])[]): Uint8Array {
  const body = parts.flatMap((part) => [...part]);
  const bytes = new Uint8Array(8 + body.length);
  new DataView(bytes.buffer).setUint32(0, bytes.length);
  bytes.set(letters(type), 4);
  bytes.set(body, 8);
  return bytes;
}

const zeros = (count: number) => Array<number>(count).fill(0);
const entry = (name: string, ...parts: Uint8Array[]) => box(name, zeros(78), ...parts);
const handler = (kind: string) => box('hdlr', zeros(8), letters(kind), zeros(12));

function track(kind: string, samples: number, ...entries: Uint8Array[]): Uint8Array {
  const descriptions = box('stsd', [0, 0, 0, 0, 0, 0, 0, entries.length], ...entries);
  const sizes = box('stsz', zeros(8), [0, 0, samples >> 8, samples & 255]);
  return box('trak', box('mdia', handler(kind), box('minf', box('stbl', descriptions, sizes))));
}

const sets = (version: number) => box('avcC', [1, 100, version]);
const bitRate = (rate: number) => box('btrt', [0, 0, 0, rate]);

describe('the movie header', () => {
  it('tells name and number of samples of the picture track, not of the sound', () => {
    const moov = box('moov', track('soun', 9, entry('mp4a')), track('vide', 300, entry('avc1', sets(1))));
    expect(readPictureHeader(moov)).toMatchObject({ samples: 300, descriptions: [{ name: 'avc1' }] });
  });

  it('tells equal kinds from unequal ones, whatever the bit rate', () => {
    const kind = (...parts: Uint8Array[]) =>
      readPictureHeader(box('moov', track('vide', 1, entry('avc1', ...parts))))?.descriptions[0]?.content;
    expect(kind(sets(1), bitRate(1))).toBe(kind(sets(1), bitRate(2)));
    expect(kind(sets(1))).not.toBe(kind(sets(2)));
  });

  it('tells a second description', () => {
    const moov = box('moov', track('vide', 2, entry('avc1', sets(1)), entry('avc1', sets(2))));
    expect(readPictureHeader(moov)?.descriptions).toHaveLength(2);
  });

  it('is none without a picture, or when it is nonsense', () => {
    expect(readPictureHeader(box('moov', track('soun', 9, entry('mp4a'))))).toBeNull();
    expect(readPictureHeader(Uint8Array.from([0, 0, 0, 99, 1, 2, 3, 4]))).toBeNull();
    expect(readPictureHeader(new Uint8Array())).toBeNull();
  });
});

describe('boxes', () => {
  it('have sizes of 32 or 64 bits, or reach to the end', () => {
    const long = Uint8Array.from([0, 0, 0, 1, 109, 100, 97, 116, 0, 0, 0, 0, 0, 0, 0, 18, 7, 7]);
    expect(boxAt(new DataView(long.buffer), 0, 18)).toEqual({
      type: 'mdat',
      start: 0,
      bodyStart: 16,
      end: 18,
    });
    const open = Uint8Array.from([0, 0, 0, 0, 109, 100, 97, 116, 7, 7]);
    expect(boxAt(new DataView(open.buffer), 0, 10)).toMatchObject({ bodyStart: 8, end: 10 });
  });

  it('end the reading where one makes no sense', () => {
    const bytes = Uint8Array.from([...box('free'), 0, 0, 0, 4, 0, 0, 0, 0]);
    expect(boxesIn(new DataView(bytes.buffer), 0, bytes.length).map((one) => one.type)).toEqual(['free']);
  });
});
