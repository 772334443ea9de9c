// Derives a source's full list of claims from its recipe, so that a recipe states only what is special.
import type { SourceExpectation, SourceRecipe } from './source-recipe.ts';

export function expectationOf(recipe: SourceRecipe): SourceExpectation {
  const { picture, sound, timecode } = recipe;
  return {
    frames: picture.frames,
    rate: picture.rate,
    constantRate: true,
    width: picture.width,
    height: picture.height,
    sar: picture.sar ?? { num: 1, den: 1 },
    rotationDegrees: 0,
    fieldOrder: picture.fieldOrder ?? 'progressive',
    bitDepth: bitDepthOf(picture.pixelFormat),
    timecode: timecode === undefined ? undefined : { start: timecode, dropFrame: timecode.includes(';') },
    audio: sound?.tracks ?? [],
    audioStartsSeconds:
      sound === undefined ? undefined : (sound.startsSeconds ?? 0) - (picture.startsSeconds ?? 0),
    hdr: undefined,
    coverArt: recipe.coverArt ?? false,
    exactSeek: true,
    splittable: true,
    ...recipe.claims,
  };
}

/** FFmpeg's planar names end in the bit depth and byte order when a sample is wider than 8 bits. */
function bitDepthOf(pixelFormat: string): number {
  const depth = /p(\d+)le$/.exec(pixelFormat)?.[1];
  return depth === undefined ? 8 : Number(depth);
}
