// The reference that a deliverable is held against: one plain FFmpeg pass over the whole source, which knows nothing of
// plans, segments and seeks.
import type { HouseFormat } from '#shared/house-format.ts';
import type { Source } from '../../support/sources/make-source.ts';

/** Frames due on the grid: the source's own pictures, or as many as were drawn where some were left out again. */
export function framesDue({ expected }: Source): number {
  return expected.constantRate
    ? expected.frames
    : Math.round(variableSeconds * (expected.rate.num / expected.rate.den));
}

/** Both sources of variable rate last as long as their sound. */
const variableSeconds = 10;

/** From the decoder's pictures, turned upright, to the pictures of the grid. */
export function gridFilters(source: Source, format: HouseFormat): string[] {
  const { expected } = source;
  const filters: string[] = [];
  if (expected.fieldOrder !== 'progressive' && format.picture.interlace === 'deinterlace') {
    filters.push(`bwdif=mode=send_frame:parity=${expected.fieldOrder}:deint=all`);
  }
  if (!expected.constantRate) {
    const { num, den } = expected.rate;
    // The last picture is held, as a player does; the filter alone drops one whose duration it doesn't know.
    const hold = ['setpts=PTS-STARTPTS', 'tpad=stop_mode=clone:stop=5'];
    filters.push(...hold, `fps=fps=${num}/${den}:round=near`, `trim=end_frame=${framesDue(source)}`);
  }
  return filters;
}

/** To BT.709 by linear light with PQ white at 100 cd/m² (common practice, no source). */
export function toneMapFilters({ expected }: Source, format: HouseFormat): string[] {
  if (expected.hdr === undefined || format.picture.hdr === 'keep') return [];
  return [
    'zscale=transfer=linear:npl=100',
    'format=gbrpf32le',
    'zscale=primaries=bt709',
    'tonemap=tonemap=hable:desat=0',
    'zscale=transfer=bt709:matrix=bt709:range=limited',
  ];
}
