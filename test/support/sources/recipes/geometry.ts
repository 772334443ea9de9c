// Pictures that are not shown as they are stored: turned, or with samples that are not square.
import { smallPicture } from '../small-picture.ts';
import type { SourceRecipe } from '../source-recipe.ts';

const encode = '-c:v libx264 -preset veryfast -crf 24 -g 50 -bf 2';

export const geometryRecipes = {
  'rotated-mp4': {
    what: 'Stored lying, shown standing: a player turns it 90 degrees clockwise, as a phone held upright asks',
    extension: 'mp4',
    picture: smallPicture,
    sound: { tracks: [1], seconds: 8 },
    encode: `${encode} -c:a aac`,
    // FFmpeg writes the matrix when it copies only.
    remux: { firstExtension: 'mp4', options: '-metadata:s:v:0 rotate=270' },
    claims: { wrapper: 'mov', codec: 'h264', rotationDegrees: 90 },
  },
  'anamorphic-mp4': {
    what: 'Sample aspect ratio 4:3, a small cousin of 1440×1080',
    extension: 'mp4',
    picture: { ...smallPicture, width: 240, sar: { num: 4, den: 3 } },
    sound: { tracks: [2], seconds: 8 },
    encode: `${encode} -c:a aac`,
    claims: { wrapper: 'mov', codec: 'h264' },
  },
  'h264-mp4-odd-size': {
    what: 'Odd width and height in H.264, which needs 4:4:4 sampling for it',
    extension: 'mp4',
    picture: { ...smallPicture, width: 321, height: 181, pixelFormat: 'yuv444p' },
    encode,
    claims: { wrapper: 'mov', codec: 'h264' },
  },
} as const satisfies Record<string, SourceRecipe>;
