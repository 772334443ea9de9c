// Tells from a file's first bytes what it is, before any decoder sees it. Only wrappers that hold a film in this one
// file are taken: a playlist that ffmpeg would follow to other files never gets that far.
import { startsWith, textAt } from './bytes.ts';
import { type OtherFile, otherFileKind } from './other-files.ts';
import { transportPacketBytes } from './transport-stream.ts';

/** Bytes that `sniffFile` wants to see; fewer when the file is shorter. */
export const sniffBytes = 64 * 1024;

export type Wrapper = 'iso' | 'matroska' | 'avi' | 'mxf' | 'asf' | 'plain';

export type Sniffed =
  | {
      readonly kind: 'media';
      /** ffmpeg's full name of the demuxer, as `-format_whitelist` compares it. */
      readonly demuxer: string;
      /** Which statement about its own length the wrapper makes; `plain` makes none. */
      readonly wrapper: Wrapper;
    }
  | OtherFile;

type Signature = {
  readonly demuxer: string;
  readonly wrapper?: Wrapper;
  readonly matches: (head: Uint8Array) => boolean;
};

const signatures: readonly Signature[] = [
  { demuxer: 'mov,mp4,m4a,3gp,3g2,mj2', wrapper: 'iso', matches: isIsoOrQuickTime },
  {
    demuxer: 'matroska,webm',
    wrapper: 'matroska',
    matches: (head) => startsWith(head, [0x1a, 0x45, 0xdf, 0xa3]),
  },
  {
    demuxer: 'avi',
    wrapper: 'avi',
    matches: (head) => textAt(head, 0, 4) === 'RIFF' && textAt(head, 8, 4) === 'AVI ',
  },
  { demuxer: 'mxf', wrapper: 'mxf', matches: (head) => partitionPackOffset(head) !== null },
  {
    demuxer: 'asf',
    wrapper: 'asf',
    matches: (head) => startsWith(head, [0x30, 0x26, 0xb2, 0x75, 0x8e, 0x66, 0xcf, 0x11]),
  },
  { demuxer: 'flv', matches: (head) => textAt(head, 0, 3) === 'FLV' && (head[3] ?? 0) < 5 },
  { demuxer: 'ogg', matches: (head) => textAt(head, 0, 4) === 'OggS' },
  {
    demuxer: 'gxf',
    matches: (head) => startsWith(head, [0, 0, 0, 0, 1, 0xbc]) && startsWith(head, [0xe1, 0xe2], 14),
  },
  { demuxer: 'nut', matches: (head) => textAt(head, 0, 24) === 'nut/multimedia container' },
  { demuxer: 'yuv4mpegpipe', matches: (head) => textAt(head, 0, 9) === 'YUV4MPEG2' },
  { demuxer: 'mpeg', matches: (head) => startsWith(head, [0, 0, 1, 0xba]) },
  // SMPTE ST 314 header section: 1F 07 00, then the sequence bit (50 or 60 fields) and ones.
  {
    demuxer: 'dv',
    matches: (head) => startsWith(head, [0x1f, 0x07, 0x00]) && ((head[3] ?? 0) & 0x7f) === 0x3f,
  },
  { demuxer: 'mpegts', matches: (head) => transportPacketBytes(head) !== null },
];

export function sniffFile(head: Uint8Array): Sniffed {
  const other = otherFileKind(head);
  if (other) return other;
  const found = signatures.find((signature) => signature.matches(head));
  if (found) return { kind: 'media', demuxer: found.demuxer, wrapper: found.wrapper ?? 'plain' };
  return {
    kind: 'other',
    looks: 'its first bytes are those of no media wrapper that is taken here',
    advice: 'copy it again if it should be a film, else wrap it in MOV, MXF, MP4 or Matroska',
  };
}

/** Offset of an MXF header partition pack (SMPTE ST 377-1), which may follow up to 64 KiB of run-in; null without one. */
export function partitionPackOffset(head: Uint8Array): number | null {
  const key = [0x06, 0x0e, 0x2b, 0x34, 0x02, 0x05, 0x01, 0x01, 0x0d, 0x01, 0x02, 0x01, 0x01, 0x02];
  for (let at = head.indexOf(0x06); at >= 0; at = head.indexOf(0x06, at + 1))
    if (startsWith(head, key, at)) return at;
  return null;
}

/** ISO/IEC 14496-12 and QuickTime files start with one of a few box types after a four-byte size. */
function isIsoOrQuickTime(head: Uint8Array): boolean {
  return ['ftyp', 'moov', 'mdat', 'wide', 'free', 'skip', 'pnot', 'moof', 'styp', 'sidx'].includes(
    textAt(head, 4, 4),
  );
}
