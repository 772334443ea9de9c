// Frame rates that round differently, and timecode that drops numbers.
import { perSecond, smallPicture } from '../small-picture.ts';
import type { SourceRecipe } from '../source-recipe.ts';

const encode = '-c:v libx264 -preset veryfast -crf 26 -g 48 -bf 2';
const claims = { wrapper: 'mov', codec: 'h264' } as const;

function atRate(num: number, den: number, frames: number) {
  return {
    what: `H.264 in MP4 at exactly ${num}/${den} frames/s`,
    extension: 'mp4',
    picture: { ...smallPicture, rate: perSecond(num, den), frames },
    sound: { tracks: [1], seconds: Number(((frames * den) / num).toFixed(6)) },
    encode: `${encode} -c:a aac`,
    claims,
  } as const satisfies SourceRecipe;
}

export const rateRecipes = {
  'rate-24000-1001': atRate(24000, 1001, 240),
  'rate-25': atRate(25, 1, 250),
  'rate-30000-1001': atRate(30000, 1001, 300),
  'rate-50': atRate(50, 1, 400),
  'rate-60000-1001': atRate(60000, 1001, 480),
  'rate-2997-125': atRate(2997, 125, 240),
  'rate-1000000-66667': atRate(1_000_000, 66_667, 150),
  'drop-frame-mov': {
    what: 'ProRes at 29.97 with drop-frame timecode that passes a minute: 00:00:59;29 is followed by 00:01:00;02',
    extension: 'mov',
    picture: { ...smallPicture, rate: perSecond(30000, 1001), frames: 300, pixelFormat: 'yuv422p10le' },
    sound: { tracks: [1, 1], seconds: 10.01 },
    timecode: '00:00:55;00',
    encode: '-c:v prores -profile:v 0 -c:a pcm_s16le',
    claims: { wrapper: 'mov', codec: 'prores' },
  },
} as const satisfies Record<string, SourceRecipe>;
