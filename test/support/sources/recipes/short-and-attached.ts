// Files that are hardly a film, and files with a second picture that is none.
import { smallPicture } from '../small-picture.ts';
import type { SourceRecipe } from '../source-recipe.ts';

const video = '-c:v:0 libx264 -preset:v:0 veryfast -crf:v:0 24 -g:v:0 50 -bf:v:0 2';

export const shortAndAttachedRecipes = {
  'one-frame-mp4': {
    what: 'A single picture in a video file',
    extension: 'mp4',
    picture: { ...smallPicture, frames: 1 },
    encode: video,
    claims: { wrapper: 'mov', codec: 'h264', splittable: undefined },
  },
  'three-seconds-mp4': {
    what: 'Shorter than one grain; the movie header stands at the end of the file',
    extension: 'mp4',
    picture: { ...smallPicture, frames: 75 },
    sound: { tracks: [2], seconds: 3 },
    encode: `${video} -c:a aac`,
    claims: { wrapper: 'mov', codec: 'h264' },
  },
  'cover-art-mp4': {
    what: 'A still cover picture beside the film, which is not the picture track',
    extension: 'mp4',
    picture: smallPicture,
    sound: { tracks: [2], seconds: 8 },
    coverArt: true,
    encode: `${video} -c:a aac -c:v:1 mjpeg -disposition:v:1 attached_pic`,
    claims: { wrapper: 'mov', codec: 'h264' },
  },
} as const satisfies Record<string, SourceRecipe>;
