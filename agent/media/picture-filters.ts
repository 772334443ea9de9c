// Filters from a picture of the grid to what the encoder takes: size, dynamic range, samples. Asked to be exact, so
// that every processor computes the same picture.
import { isFullRangeName, isRgb } from '#shared/pixel-format.ts';
import type { PictureWay } from '#shared/plan.ts';
import type { PictureTrack } from '#shared/task.ts';

const exactScaling = 'bicubic+accurate_rnd+full_chroma_int+bitexact';

export function pictureFilters(track: PictureTrack, way: PictureWay): string[] {
  return [
    ...sampleFilters(track, way),
    `setsar=${way.sampleAspect.num}/${way.sampleAspect.den}`,
    ...labelFilters(way),
  ];
}

function sampleFilters(track: PictureTrack, way: PictureWay): string[] {
  const size = `w=${way.width}:h=${way.height}`;
  if (way.toneMap)
    return [`scale=${size}:flags=${exactScaling}`, ...toneMapFilters, `format=${way.pixelFormat}`];
  const untouched = !way.scale && way.pixelFormat === track.pixelFormat;
  return untouched ? [] : [scaleFilter(track, way), `format=${way.pixelFormat}`];
}

/** Labels on the pictures themselves: not every encoder heeds the options of the same names. */
function labelFilters({ colour, fieldOrder }: PictureWay): string[] {
  const labels = [
    ...(colour.primaries === null ? [] : [`color_primaries=${colour.primaries}`]),
    ...(colour.transfer === null ? [] : [`color_trc=${colour.transfer}`]),
    ...(colour.matrix === null ? [] : [`colorspace=${colour.matrix}`]),
    ...(colour.range === null ? [] : [`range=${colour.range}`]),
    `field_mode=${fieldOrder === 'progressive' ? 'prog' : fieldOrder === 'top-first' ? 'tff' : 'bff'}`,
  ];
  return [`setparams=${labels.join(':')}`];
}

/** Size and sample format in one step. */
function scaleFilter(track: PictureTrack, way: PictureWay): string {
  const options = [`w=${way.width}`, `h=${way.height}`, `flags=${exactScaling}`];
  if (!isRgb(track.pixelFormat)) options.push(`in_range=${sourceRange(track)}`);
  if (!isRgb(way.pixelFormat)) options.push(`out_range=${way.colour.range ?? sourceRange(track)}`);
  if (isRgb(track.pixelFormat) && !isRgb(way.pixelFormat)) options.push('out_color_matrix=bt709');
  return `scale=${options.join(':')}`;
}

/** To BT.709 by linear light; PQ white at 100 cd/m² (common practice, no source). */
const toneMapFilters = [
  'zscale=transfer=linear:npl=100',
  'format=gbrpf32le',
  'zscale=primaries=bt709',
  'tonemap=tonemap=hable:desat=0',
  'zscale=transfer=bt709:matrix=bt709:range=limited',
];

function sourceRange(track: PictureTrack): 'tv' | 'pc' {
  return track.colour.range ?? (isFullRangeName(track.pixelFormat) ? 'pc' : 'tv');
}
