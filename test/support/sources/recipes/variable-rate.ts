// Nominal 60 frames/s with frames dropped and others late, as phones and screen recorders write.
import { perSecond, smallPicture } from '../small-picture.ts';
import type { PictureRecipe, SourceRecipe } from '../source-recipe.ts';

const drawnFrames = 600;
const dropped = (frame: number) => frame % 7 === 3 || (frame % 90 >= 40 && frame % 90 <= 52);
const kept = Array.from({ length: drawnFrames }, (_, frame) => frame).filter(
  (frame) => !dropped(frame),
).length;

/** The expression says what `dropped` says; every 11th frame that is kept comes 3 ms late. */
const picture: PictureRecipe = {
  ...smallPicture,
  rate: perSecond(60),
  frames: drawnFrames,
  filters: [
    "select='not(eq(mod(n,7),3))*not(between(mod(n,90),40,52))'",
    'settb=1/90000',
    "setpts='PTS+270*eq(mod(N,11),5)'",
  ].join(','),
};

const encode = '-enc_time_base -1 -c:v libx264 -preset veryfast -crf 24 -g 60 -bf 2';

export const variableRateRecipes = {
  'vfr-mp4': {
    what: 'Variable rate in MP4: frames dropped and frames late on a clock of 90 kHz',
    extension: 'mp4',
    picture,
    sound: { tracks: [2], seconds: 10 },
    encode: `${encode} -video_track_timescale 90000 -c:a aac`,
    claims: { wrapper: 'mov', codec: 'h264', frames: kept, constantRate: false },
  },
  'vfr-mkv': {
    what: 'Variable rate in Matroska: the same frames, whose average rate is given as 60',
    extension: 'mkv',
    picture,
    sound: { tracks: [2], seconds: 10 },
    encode: `${encode} -c:a libopus`,
    claims: { wrapper: 'matroska', codec: 'h264', frames: kept, constantRate: false },
  },
} as const satisfies Record<string, SourceRecipe>;
