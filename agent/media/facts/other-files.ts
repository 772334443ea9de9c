// Files that are no film: recognised so that the editor reads what was handed in, not that "invalid data" was found.
import { startsWith, textAt } from './bytes.ts';

/** `looks`: what the file seems to be; `advice`: what to do. Both fit into a sentence. */
export type OtherFile = {
  readonly kind: 'sound-only' | 'other';
  readonly looks: string;
  readonly advice: string;
};

type Rule = OtherFile & { readonly matches: (head: Uint8Array) => boolean };

const bytes =
  (wanted: readonly number[], offset = 0) =>
  (head: Uint8Array) =>
    startsWith(head, wanted, offset);
const text =
  (wanted: string, offset = 0) =>
  (head: Uint8Array) =>
    textAt(head, offset, wanted.length) === wanted;
const any =
  (...tests: ((head: Uint8Array) => boolean)[]) =>
  (head: Uint8Array) =>
    tests.some((test) => test(head));

const handInFilm = 'hand in the film itself';

const rules: readonly Rule[] = [
  ...pictureFiles(),
  ...soundFiles(),
  ...containersOfFiles(),
  {
    kind: 'other',
    looks: 'it is a bare MPEG, H.264 or H.265 stream without a wrapper, so its pictures have no times',
    advice: 'wrap it in MP4 or Matroska',
    matches: any(bytes([0, 0, 1, 0xb3]), isBareVideoStream),
  },
  {
    kind: 'other',
    looks: 'it begins with nothing but zero bytes, as an unfinished copy does',
    advice: 'copy it again from the card or the edit',
    matches: (head) => head.every((byte) => byte === 0),
  },
  {
    kind: 'other',
    looks: 'it is a playlist, which only names other files',
    advice: 'hand in the files that it names',
    matches: (head) =>
      /^(#EXTM3U|#EXT-X-|ffconcat|\[playlist\]|\[InternetShortcut\])/.test(plainText(head)) ||
      /^file\s+['"\w/.]/.test(plainText(head)),
  },
  { kind: 'other', looks: 'it is a text file', advice: handInFilm, matches: isText },
];

/** What the file is when it is certainly no film; null when it may be one. */
export function otherFileKind(head: Uint8Array): OtherFile | null {
  const rule = rules.find((candidate) => candidate.matches(head));
  return rule ? { kind: rule.kind, looks: rule.looks, advice: rule.advice } : null;
}

function pictureFiles(): Rule[] {
  const still = (looks: string, matches: Rule['matches']): Rule => ({
    kind: 'other',
    looks,
    advice: 'stills are not taken here; hand in a film',
    matches,
  });
  const brand = (head: Uint8Array) => (textAt(head, 4, 4) === 'ftyp' ? textAt(head, 8, 4) : '');
  return [
    still('it is a PNG picture', bytes([0x89, 0x50, 0x4e, 0x47])),
    still('it is a JPEG picture', bytes([0xff, 0xd8, 0xff])),
    still('it is a GIF picture', text('GIF8')),
    still('it is a WebP picture', (head) => text('RIFF')(head) && text('WEBP', 8)(head)),
    still(
      'it is a TIFF or camera raw picture',
      any(bytes([0x49, 0x49, 0x2a, 0]), bytes([0x4d, 0x4d, 0, 0x2a]), (head) => brand(head) === 'crx '),
    ),
    still('it is a HEIF or AVIF picture', (head) =>
      ['heic', 'heix', 'heim', 'mif1', 'avif'].includes(brand(head)),
    ),
    still(
      'it is a picture (DPX, OpenEXR, JPEG 2000, Photoshop or BMP)',
      any(
        text('SDPX'),
        text('XPDS'),
        bytes([0x76, 0x2f, 0x31, 1]),
        bytes([0, 0, 0, 12, 0x6a, 0x50]),
        text('8BPS'),
        isBitmap,
      ),
    ),
  ];
}

function soundFiles(): Rule[] {
  const sound = (looks: string, matches: Rule['matches']): Rule => ({
    kind: 'sound-only',
    looks,
    advice: 'hand in a file with a picture track',
    matches,
  });
  return [
    sound(
      'it is a WAVE sound file',
      (head) => any(text('RIFF'), text('RF64'), text('BW64'))(head) && text('WAVE', 8)(head),
    ),
    sound(
      'it is an AIFF sound file',
      (head) => text('FORM')(head) && any(text('AIFF', 8), text('AIFC', 8))(head),
    ),
    sound(
      'it is a sound file (FLAC, MP3, AAC, AC-3 or CAF)',
      any(text('fLaC'), text('ID3'), text('caff'), bytes([0x0b, 0x77]), isFramedSound),
    ),
  ];
}

function containersOfFiles(): Rule[] {
  const other = (looks: string, advice: string, matches: Rule['matches']): Rule => ({
    kind: 'other',
    looks,
    advice,
    matches,
  });
  return [
    other('it is a PDF document', handInFilm, text('%PDF')),
    other(
      'it is an archive',
      'unpack it and hand in the film',
      any(
        bytes([0x50, 0x4b, 3, 4]),
        bytes([0x1f, 0x8b]),
        bytes([0x37, 0x7a, 0xbc, 0xaf]),
        text('Rar!'),
        bytes([0xfd, 0x37, 0x7a]),
        bytes([0x28, 0xb5, 0x2f, 0xfd]),
        text('ustar', 257),
      ),
    ),
    other(
      'it is a program',
      handInFilm,
      any(bytes([0x7f, 0x45, 0x4c, 0x46]), (head) => text('MZ')(head) && head[3] === 0),
    ),
    other(
      'it is a camera’s own raw recording',
      'export it from the maker’s program to ProRes, DNxHR or H.265',
      any(text('RED1', 4), text('RED2', 4), text('ARRI')),
    ),
  ];
}

/** MPEG-1/2 audio and ADTS AAC: eleven or twelve set bits; a legal layer, rate and sampling frequency follow. */
function isFramedSound(head: Uint8Array): boolean {
  const [first = 0, second = 0, third = 0] = head;
  if (first !== 0xff || (second & 0xe0) !== 0xe0) return false;
  const isAdts = (second & 0xf6) === 0xf0;
  return isAdts
    ? ((third >> 2) & 15) < 13
    : (second & 6) !== 0 && third >> 4 !== 15 && ((third >> 2) & 3) !== 3;
}

/** Annex B start code and a parameter set or delimiter of H.264 or H.265. */
function isBareVideoStream(head: Uint8Array): boolean {
  const at = startsWith(head, [0, 0, 0, 1]) ? 4 : startsWith(head, [0, 0, 1]) ? 3 : 0;
  if (at === 0) return false;
  const unit = head[at] ?? 0;
  return [0x67, 0x47, 0x27, 0x09, 0x40, 0x42, 0x46].includes(unit);
}

function isBitmap(head: Uint8Array): boolean {
  return text('BM')(head) && startsWith(head, [0, 0, 0, 0], 6);
}

/** Text without byte order mark and leading blanks; UTF-16 by its low bytes. */
function plainText(head: Uint8Array): string {
  return textAt(
    head.filter((byte) => byte !== 0),
    0,
    256,
  ).replace(/^(\xef\xbb\xbf|\xff\xfe|\xfe\xff)?\s*/, '');
}

/** Letters and white space in the first kilobytes, and no control characters: no wrapper begins like that. */
function isText(head: Uint8Array): boolean {
  const sample = head.subarray(0, 4096);
  const wide = startsWith(sample, [0xff, 0xfe]) || startsWith(sample, [0xfe, 0xff]);
  const allowed = (byte: number) => byte >= 32 || [9, 10, 12, 13].includes(byte) || (wide && byte === 0);
  const plain = sample.filter((byte) => byte < 127).length;
  return plain > sample.length / 2 && sample.every(allowed) && textAt(sample, 0, 9) !== 'YUV4MPEG2';
}
