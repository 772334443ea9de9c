// Codecs of the web, whose streams hold pictures that are never shown: packets don't count frames.
import { smallPicture } from '../small-picture.ts';
import type { SourceRecipe } from '../source-recipe.ts';

const hidden = '-deadline realtime -cpu-used 6 -auto-alt-ref 1 -lag-in-frames 16 -g 60 -b:v 400k';

export const webRecipes = {
  'vp9-webm-hidden-frames': {
    what: 'VP9 with invisible reference frames, packed together with the next one that is shown',
    extension: 'webm',
    picture: { ...smallPicture, frames: 250 },
    sound: { tracks: [2], seconds: 10 },
    encode: `-c:v libvpx-vp9 -row-mt 1 ${hidden} -c:a libopus`,
    claims: { wrapper: 'matroska', codec: 'vp9' },
  },
  'av1-mp4': {
    what: 'AV1 in MP4',
    extension: 'mp4',
    picture: { ...smallPicture, frames: 250 },
    sound: { tracks: [2], seconds: 10 },
    encode: '-c:v libsvtav1 -preset 12 -crf 40 -g 50 -c:a aac',
    claims: { wrapper: 'mov', codec: 'av1' },
  },
  'av1-mkv-10-bit': {
    what: 'AV1 with 10 bits for each sample, in Matroska',
    extension: 'mkv',
    picture: { ...smallPicture, pixelFormat: 'yuv420p10le' },
    sound: { tracks: [2], seconds: 8 },
    encode: '-c:v libsvtav1 -preset 12 -crf 40 -g 50 -c:a libopus',
    claims: { wrapper: 'matroska', codec: 'av1' },
  },
} as const satisfies Record<string, SourceRecipe>;
