// Draws the picture and the sound of every test source, as FFmpeg filter graphs. No two frames are alike
// and no two stretches of sound are, so a dropped, doubled or shifted one shows in hashes and correlation.
import type { PictureRecipe } from './source-recipe.ts';

const sampleRate = 48_000;

/** Layout names by channel count; SMPTE order for 5.1. */
const layouts: Readonly<Record<number, string>> = { 1: 'mono', 2: 'stereo', 6: '5.1' };

/** Moving test picture with fine noise of a fixed seed. */
export function pictureGraph(picture: PictureRecipe): string {
  const { width, height, rate, frames } = picture;
  const woven = weave(picture);
  const drawnRate = `${rate.num * woven.picturesPerFrame}/${rate.den}`;
  return [
    `testsrc2=size=${width}x${height}:rate=${drawnRate}`,
    `trim=end_frame=${frames * woven.picturesPerFrame}`,
    'noise=alls=6:allf=t:all_seed=7',
    ...woven.filters,
    ...(picture.sar === undefined ? [] : [`setsar=${picture.sar.num}/${picture.sar.den}`]),
    ...(picture.filters === undefined ? [] : [picture.filters]),
    `format=${picture.pixelFormat}`,
  ].join(',');
}

/** A still square, for a file's attached picture. */
export function coverGraph(): string {
  return 'testsrc=size=300x300:rate=1,trim=end_frame=1,format=yuvj444p';
}

/** Pink noise that swells and fades, another one for each channel of each track. */
export function soundGraph(track: { index: number; channels: number; seconds: number }): string {
  const layout = layouts[track.channels];
  if (layout === undefined) {
    throw new Error(`No layout is known for ${track.channels} channels; add it to pattern.ts.`);
  }
  const channels = Array.from({ length: track.channels }, (_, channel) => 1 + track.index * 10 + channel);
  const drawn = channels.map((seed) => `${noise(seed, track.seconds)}[c${seed}]`);
  const joined = channels.map((seed) => `[c${seed}]`).join('');
  return [...drawn, `${joined}join=inputs=${track.channels}:channel_layout=${layout}`].join(';');
}

function noise(seed: number, seconds: number): string {
  const swellHz = 1.1 + (seed % 10) / 7;
  const source = `anoisesrc=color=pink:amplitude=0.5:sample_rate=${sampleRate}:duration=${seconds}:seed=${seed}`;
  return `${source},tremolo=f=${swellHz.toFixed(3)}:d=0.8`;
}

/** Two pictures, half a frame apart, go into each interlaced frame. */
function weave(picture: PictureRecipe): { picturesPerFrame: 1 | 2; filters: readonly string[] } {
  switch (picture.fieldOrder) {
    case 'tff':
      return { picturesPerFrame: 2, filters: ['tinterlace=mode=interleave_top', 'setfield=mode=tff'] };
    case 'bff':
      return { picturesPerFrame: 2, filters: ['tinterlace=mode=interleave_bottom', 'setfield=mode=bff'] };
    default:
      return { picturesPerFrame: 1, filters: [] };
  }
}
