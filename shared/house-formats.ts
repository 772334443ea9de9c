// The four built-in house formats. A studio adds its own as files; names and purposes of these four stay stable.
import type { HouseFormat } from './house-format.ts';

const editProxy: HouseFormat = {
  name: 'edit-proxy',
  version: 1,
  title: 'Editing proxy: VC-3 (DNxHR LB) up to 1080 lines in MOV, PCM sound, source timecode, same stem',
  wrapper: 'mov',
  picture: {
    codec: 'vc3',
    profile: 'dnxhr_lb',
    pixelFormat: 'yuv422p',
    size: { width: 1920, height: 1080 },
    rate: 'source',
    interlace: 'deinterlace',
    hdr: 'keep',
    gopSeconds: 1,
  },
  sound: { codec: 'pcm' },
  grainSeconds: 5,
  namePattern: '{stem}',
  damagedSource: 'refuse',
  checks: { likenessFloor: 0.9, seamDrop: 0.05, lossless: false },
  report: 'ledger',
};

const reviewCopy: HouseFormat = {
  name: 'review-copy',
  version: 1,
  title: 'Review copy: H.265 up to 720 lines in MP4, AAC sound, starts before it is fully loaded',
  wrapper: 'mp4',
  picture: {
    codec: 'h265',
    pixelFormat: 'yuv420p',
    quality: 26,
    preset: 'fast',
    size: { width: 1280, height: 720 },
    rate: 'source',
    interlace: 'deinterlace',
    hdr: 'tone-map',
    gopSeconds: 2.5,
  },
  sound: { codec: 'aac', bitsPerChannel: 96_000 },
  grainSeconds: 5,
  namePattern: '{stem}',
  damagedSource: 'deliver-what-decodes',
  checks: { likenessFloor: 0.75, seamDrop: 0.1, lossless: false },
  report: 'ledger',
};

const storageCopy: HouseFormat = {
  name: 'storage-copy',
  version: 1,
  title:
    'Storage copy: H.265 10-bit at constant quality and source size in Matroska, every sound track in FLAC',
  wrapper: 'mkv',
  picture: {
    codec: 'h265',
    pixelFormat: 'yuv420p10le',
    quality: 20,
    preset: 'medium',
    size: 'source',
    rate: 'source',
    interlace: 'deinterlace',
    hdr: 'keep',
    gopSeconds: 5,
  },
  sound: { codec: 'flac' },
  grainSeconds: 10,
  namePattern: '{stem}',
  damagedSource: 'refuse',
  checks: { likenessFloor: 0.85, seamDrop: 0.07, lossless: false },
  report: 'ledger',
};

const losslessMaster: HouseFormat = {
  name: 'lossless-master',
  version: 1,
  title: 'Lossless master: FFV1 version 3 with slice checksums in Matroska, pictures and sound bit-exact',
  wrapper: 'mkv',
  picture: {
    codec: 'ffv1',
    pixelFormat: 'source',
    size: 'source',
    rate: 'source',
    interlace: 'keep',
    hdr: 'keep',
    gopSeconds: 1,
  },
  sound: { codec: 'exact' },
  grainSeconds: 5,
  namePattern: '{stem}',
  damagedSource: 'refuse',
  checks: { likenessFloor: 1, seamDrop: 0, lossless: true },
  report: 'beside',
};

export const builtInFormats: readonly HouseFormat[] = [editProxy, reviewCopy, storageCopy, losslessMaster];
