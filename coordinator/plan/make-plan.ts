// Facts + house format → plan: frame grid, grains, the ways of picture and sound, or an error that says why not.
import { MillError } from '#shared/errors.ts';
import type { MediaFacts } from '#shared/facts.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import type { Plan } from '#shared/plan.ts';
import { sameRational, toNumber } from '#shared/rational.ts';
import { estimateBytes } from './estimate-bytes.ts';
import { type FrameGrid, frameGrid } from './frame-grid.ts';
import { pictureWay } from './picture-way.ts';
import { soundWay } from './sound-way.ts';

export type PlanRequest = {
  readonly facts: MediaFacts;
  readonly format: HouseFormat;
  /** Other length of a grain than the format's, seconds; null takes the format's. */
  readonly grainSeconds: number | null;
  /** An encoder has met pictures that don't decode. */
  readonly damageMet: boolean;
};

const intraCodecs: readonly string[] = ['vc3', 'prores', 'ffv1'];

/** Throws MillError `source-damaged` or `no-lane`. */
export function makePlan(request: PlanRequest): Plan {
  const { facts, format } = request;
  const tolerant = isTolerant(request);
  const grid = frameGrid(facts.picture, format, tolerant);
  const grainFrames = framesIn(request.grainSeconds ?? format.grainSeconds, grid);
  const gopFrames = gopOf(format, grid, grainFrames);
  const { way, notes } = pictureWay(facts, format, { resample: grid.resample, tolerant });
  const { timecode, note } = outputTimecode(facts, grid);
  return {
    rate: grid.rate,
    frames: grid.frames,
    gopFrames,
    grainFrames: gopFrames * Math.max(1, Math.round(grainFrames / gopFrames)),
    wholeBecause: wholeBecause(facts, tolerant),
    picture: way,
    sound: facts.sound.map((track) => soundWay(track, format.sound)),
    timecode,
    estimatedBytes: estimateBytes(format.picture, {
      pixels: way.width * way.height,
      frames: grid.frames,
      bitDepth: facts.picture.bitDepth,
    }),
    notes: [...notes, ...note, ...lostTracks(facts), ...(tolerant ? [damageNote] : [])],
  };
}

/** A grain holds whole groups of pictures, so a group is never longer than a grain. */
function gopOf({ picture }: HouseFormat, grid: FrameGrid, grainFrames: number): number {
  return intraCodecs.includes(picture.codec) ? 1 : Math.min(framesIn(picture.gopSeconds, grid), grainFrames);
}

const damageNote =
  'the source is damaged: pictures that do not decode are covered by the picture before them';

function isTolerant({ facts, format, damageMet }: PlanRequest): boolean {
  const warning = facts.warnings.find((text) => text.startsWith('damaged:'));
  if (warning === undefined && !damageMet) return false;
  if (format.damagedSource === 'deliver-what-decodes') return true;
  throw new MillError(
    'source-damaged',
    `the source has pictures that do not decode and ${format.name} takes only whole sources; copy it again from the card, or use a format that delivers what decodes`,
    { details: warning === undefined ? {} : { warning } },
  );
}

function wholeBecause(facts: MediaFacts, tolerant: boolean): string | null {
  if (tolerant) return 'damaged pictures decode the same only when reading from the head';
  return facts.cuts.verdict === 'head-only' ? facts.cuts.reason : null;
}

function framesIn(seconds: number, grid: FrameGrid): number {
  return Math.max(1, Math.round(seconds * toNumber(grid.rate)));
}

function outputTimecode(facts: MediaFacts, grid: FrameGrid): { timecode: string | null; note: string[] } {
  if (facts.timecode === null) return { timecode: null, note: [] };
  if (!sameRational(grid.rate, facts.picture.rate)) {
    return { timecode: null, note: [`timecode ${facts.timecode.text} was left out: it counts another rate`] };
  }
  return { timecode: facts.timecode.text, note: [] };
}

function lostTracks(facts: MediaFacts): string[] {
  return facts.otherTracks.map(
    (track) => `track ${track.index} (${track.kind}, ${track.codec}): ${track.note}`,
  );
}
