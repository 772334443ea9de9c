// The reference that a deliverable is held against: one plain FFmpeg pass over the whole source, which knows nothing of
// plans, segments and seeks.
import type { HouseFormat } from '#shared/house-format.ts';
import type { Source } from '../sources/make-source.ts';
import type { SourceExpectation } from '../sources/source-recipe.ts';

export type Film = {
  readonly path: string;
  readonly expected: Omit<
    SourceExpectation,
    'wrapper' | 'codec' | 'frames' | 'bitDepth' | 'coverArt' | 'exactSeek'
  >;
  /** Frames due on the grid: the source's own pictures, or as many as fill its time at the rate. */
  readonly framesDue: number;
};

/** Both made sources of variable rate last as long as their sound. */
const variableSeconds = 10;

/** A made source claims what it is. */
export function madeFilm({ path, expected }: Source): Film {
  const { frames, rate, constantRate } = expected;
  return { path, expected, framesDue: constantRate ? frames : variableSeconds * (rate.num / rate.den) };
}

/** What a person knows of real footage, whose headers often don't. */
export type Told = Pick<SourceExpectation, 'rate' | 'constantRate' | 'width' | 'height' | 'audio'> & {
  readonly framesDue: number;
};

/** Footage as cameras and old programs wrote it: square samples, progressive, neither timecode nor light levels. */
export function realFilm(path: string, { framesDue, ...told }: Told): Film {
  const plain = {
    sar: { num: 1, den: 1 },
    rotationDegrees: 0,
    fieldOrder: 'progressive',
    timecode: undefined,
    audioStartsSeconds: undefined,
    hdr: undefined,
    splittable: undefined,
  } as const;
  return { path, expected: { ...plain, ...told }, framesDue };
}

/** From the decoder's pictures, turned upright, to the pictures of the grid. */
export function gridFilters({ expected, framesDue }: Film, format: HouseFormat): string[] {
  const filters: string[] = [];
  if (expected.fieldOrder !== 'progressive' && format.picture.interlace === 'deinterlace') {
    filters.push(`bwdif=mode=send_frame:parity=${expected.fieldOrder}:deint=all`);
  }
  if (!expected.constantRate) {
    const { num, den } = expected.rate;
    // The last picture is held, as a player does; the filter alone drops one whose duration it doesn't know.
    const hold = ['setpts=PTS-STARTPTS', 'tpad=stop_mode=clone:stop=5'];
    filters.push(...hold, `fps=fps=${num}/${den}:round=near`, `trim=end_frame=${framesDue}`);
  }
  return filters;
}

/** To BT.709 by linear light with PQ white at 100 cd/m² (common practice, no source). */
export function toneMapFilters({ expected }: Film, format: HouseFormat): string[] {
  if (expected.hdr === undefined || format.picture.hdr === 'keep') return [];
  return [
    'zscale=transfer=linear:npl=100',
    'format=gbrpf32le',
    'zscale=primaries=bt709',
    'tonemap=tonemap=hable:desat=0',
    'zscale=transfer=bt709:matrix=bt709:range=limited',
  ];
}
