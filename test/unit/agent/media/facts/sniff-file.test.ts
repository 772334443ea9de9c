import { describe, expect, test } from 'vitest';
import { sniffFile } from '../../../../../agent/media/facts/sniff-file.ts';

/** Bytes from texts and numbers, filled up with a byte that no signature has. */
function head(...parts: readonly (string | readonly number[])[]): Uint8Array {
  const bytes = parts.flatMap((part) =>
    typeof part === 'string' ? [...Buffer.from(part, 'latin1')] : [...part],
  );
  return Uint8Array.from([...bytes, ...Array.from({ length: 2048 }, () => 0xfe)]);
}

function transport(size: number, lead: number): Uint8Array {
  const bytes = new Uint8Array(lead + size * 10).fill(0xfe);
  for (let at = lead; at < bytes.length; at += size) bytes[at] = 0x47;
  return bytes;
}

describe('wrappers that are taken', () => {
  test.each<[string, string, Uint8Array]>([
    ['MP4', 'mov,mp4,m4a,3gp,3g2,mj2', head([0, 0, 0, 24], 'ftypisom')],
    ['QuickTime without a brand', 'mov,mp4,m4a,3gp,3g2,mj2', head([0, 0, 0, 8], 'wide')],
    ['Matroska', 'matroska,webm', head([0x1a, 0x45, 0xdf, 0xa3])],
    ['AVI', 'avi', head('RIFF', [1, 2, 3, 4], 'AVI LIST')],
    // SMPTE ST 377-1 header partition pack, closed and complete.
    [
      'MXF',
      'mxf',
      head([0x06, 0x0e, 0x2b, 0x34, 0x02, 0x05, 0x01, 0x01, 0x0d, 0x01, 0x02, 0x01, 0x01, 0x02, 0x04, 0x00]),
    ],
    [
      'MXF after a run-in',
      'mxf',
      head(
        [6, 9, 9],
        [0x06, 0x0e, 0x2b, 0x34, 0x02, 0x05, 0x01, 0x01, 0x0d, 0x01, 0x02, 0x01, 0x01, 0x02, 0x04, 0x00],
      ),
    ],
    ['transport stream', 'mpegts', transport(188, 0)],
    ['transport stream that begins within a packet', 'mpegts', transport(188, 97)],
    ['AVCHD', 'mpegts', transport(192, 4)],
    ['transport stream with error correction', 'mpegts', transport(204, 0)],
    ['program stream', 'mpeg', head([0, 0, 1, 0xba, 0x44])],
    ['DV, 50 fields', 'dv', head([0x1f, 0x07, 0x00, 0xbf])],
    ['DV, 60 fields', 'dv', head([0x1f, 0x07, 0x00, 0x3f])],
    ['FLV', 'flv', head('FLV', [1, 5])],
    ['Ogg', 'ogg', head('OggS', [0, 2])],
    ['ASF', 'asf', head([0x30, 0x26, 0xb2, 0x75, 0x8e, 0x66, 0xcf, 0x11, 0xa6])],
    ['Y4M', 'yuv4mpegpipe', head('YUV4MPEG2 W320 H180\n')],
    ['NUT', 'nut', head('nut/multimedia container\0')],
  ])('%s is read by %s', (_, demuxer, bytes) => {
    expect(sniffFile(bytes)).toMatchObject({ kind: 'media', demuxer });
  });
});

describe('other files are refused, and said to be what they look like', () => {
  test.each<[string, Uint8Array, RegExp]>([
    ['HLS playlist', head('#EXTM3U\n#EXT-X-VERSION:3\nother.ts\n'), /playlist/],
    ['concat script', Buffer.from("ffconcat version 1.0\nfile 'private.mp4'\n"), /playlist/],
    ['concat script without a header', Buffer.from("file '/etc/passwd'\n"), /playlist/],
    ['text', Buffer.from('Scene 12, take 3: the actor enters.\n'), /text/],
    ['text of two bytes a letter', Buffer.from('\ufeffnotes', 'utf16le'), /text/],
    ['XML', Buffer.from('<?xml version="1.0"?><MPD></MPD>'), /text/],
    ['PNG', head([0x89, 0x50, 0x4e, 0x47]), /PNG/],
    ['JPEG', head([0xff, 0xd8, 0xff, 0xe0]), /JPEG/],
    ['GIF', head('GIF89a'), /GIF/],
    ['WebP', head('RIFF', [1, 2, 3, 4], 'WEBP'), /WebP/],
    ['TIFF', head([0x49, 0x49, 0x2a, 0]), /TIFF/],
    ['HEIF', head([0, 0, 0, 24], 'ftypheic'), /HEIF/],
    ['PDF', head('%PDF-1.7'), /PDF/],
    ['ZIP', head([0x50, 0x4b, 3, 4]), /archive/],
    ['program', head([0x7f, 0x45, 0x4c, 0x46]), /program/],
    ['H.264 stream', head([0, 0, 0, 1, 0x67]), /without a wrapper/],
    ['zeros', new Uint8Array(4096), /zero bytes/],
    ['noise', head([3, 1, 4, 1, 5, 9]), /no media wrapper/],
  ])('%s', (_, bytes, looks) => {
    expect(sniffFile(bytes)).toMatchObject({
      kind: 'other',
      looks: expect.stringMatching(looks),
      advice: expect.stringMatching(/\w/),
    });
  });

  test.each<[string, Uint8Array]>([
    ['WAVE', head('RIFF', [1, 2, 3, 4], 'WAVEfmt ')],
    ['AIFF', head('FORM', [1, 2, 3, 4], 'AIFC')],
    ['FLAC', head('fLaC')],
    ['MP3', head('ID3', [3, 0])],
    ['MP3 without tags', head([0xff, 0xfb, 0x90, 0x00])],
    ['AAC', head([0xff, 0xf1, 0x50, 0x80])],
  ])('%s is sound without a picture', (_, bytes) => {
    expect(sniffFile(bytes)).toMatchObject({ kind: 'sound-only' });
  });
});
