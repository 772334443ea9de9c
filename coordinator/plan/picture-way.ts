// The way of the picture: everything between decoder and encoder, decided once for the whole job.
import type { Colour, MediaFacts } from '#shared/facts.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import { isFullRangeName, isRgb } from '#shared/pixel-format.ts';
import type { PictureWay } from '#shared/plan.ts';
import { pictureSize } from './picture-size.ts';
import { losslessPixelFormat } from './pixel-format.ts';

/** Codecs that ffmpeg's encoders can restate HDR data for. */
const carriesHdr: readonly string[] = ['h265', 'av1'];

export function pictureWay(
  facts: MediaFacts,
  format: HouseFormat,
  grid: { resample: boolean; tolerant: boolean },
): { way: PictureWay; notes: string[] } {
  const { picture } = facts;
  const spec = format.picture;
  const size = pictureSize(picture, spec);
  const toneMap = spec.hdr === 'tone-map' && isHdrTransfer(picture.colour.transfer);
  const interlaced = picture.fieldOrder !== 'progressive';
  const deinterlace = interlaced && spec.interlace === 'deinterlace' ? picture.fieldOrder : null;
  const hdr = toneMap || !carriesHdr.includes(spec.codec) ? null : picture.hdr;
  const pixelFormat =
    spec.pixelFormat === 'source' ? losslessPixelFormat(picture.pixelFormat) : spec.pixelFormat;
  const way: PictureWay = {
    resample: grid.resample,
    tolerant: grid.tolerant,
    deinterlace: deinterlace === 'progressive' ? null : deinterlace,
    toneMap,
    width: size.width,
    height: size.height,
    scale: size.scale,
    sampleAspect: size.sampleAspect,
    pixelFormat,
    colour: toneMap ? bt709 : outputColour(facts, format, pixelFormat),
    hdr,
    fieldOrder: deinterlace === null ? picture.fieldOrder : 'progressive',
  };
  return { way, notes: [...(size.note === null ? [] : [size.note]), ...notesOf(facts, format, way)] };
}

/** SMPTE ST 2084 (PQ) and ARIB STD-B67 (HLG); ITU-T H.273 code points 16 and 18. */
function isHdrTransfer(transfer: string | null): boolean {
  return transfer === 'smpte2084' || transfer === 'arib-std-b67';
}

const bt709: Colour = {
  primaries: 'bt709',
  transfer: 'bt709',
  matrix: 'bt709',
  range: 'tv',
  chromaLocation: 'left',
};

function outputColour(facts: MediaFacts, format: HouseFormat, output: string): Colour {
  const { colour, pixelFormat } = facts.picture;
  // Luma and chroma are made of red, green and blue here, by BT.709: the label says so.
  if (isRgb(pixelFormat) && !isRgb(output)) return { ...colour, matrix: 'bt709', range: 'tv' };
  const range = colour.range ?? (isFullRangeName(pixelFormat) ? 'pc' : null);
  // Editing codecs are read as limited range whatever the label says (common practice, no source).
  const limited = format.picture.codec === 'vc3' || format.picture.codec === 'prores';
  return { ...colour, range: limited ? 'tv' : range };
}

function notesOf({ picture }: MediaFacts, format: HouseFormat, way: PictureWay): string[] {
  const notes: string[] = [];
  if (way.deinterlace !== null)
    notes.push(`interlaced (${way.deinterlace}) became progressive at the same rate`);
  if (way.toneMap) notes.push('high dynamic range was mapped to BT.709');
  if (picture.hdr !== null && way.hdr === null && !way.toneMap) {
    notes.push(`mastering and light-level data are not carried by ${format.picture.codec}`);
  }
  if (picture.rotation !== 0)
    notes.push(`the ${picture.rotation}° turn was applied to the picture and its tag left out`);
  if (way.resample && !picture.constantRate)
    notes.push('variable rate became constant by time of each picture');
  if (picture.closedCaptions) notes.push('closed captions inside the picture stream may not be carried');
  return notes;
}
