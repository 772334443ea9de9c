// Sound that is early, late, missing, or in many tracks or channels.
import { perSecond, smallPicture } from '../small-picture.ts';
import type { PictureRecipe, SourceRecipe } from '../source-recipe.ts';

const picture = smallPicture;

/** At a rate that puts half a second on a frame. */
const latePicture: PictureRecipe = { ...smallPicture, rate: perSecond(24), frames: 192, startsSeconds: 0.5 };

const video = '-c:v libx264 -preset veryfast -crf 24 -g 50 -bf 2';

export const soundRecipes = {
  'sound-early-mov': {
    what: 'Sound starts half a second before the picture, told by an edit list',
    extension: 'mov',
    picture: latePicture,
    sound: { tracks: [2], seconds: 8.5 },
    encode: `${video} -c:a pcm_s16le`,
    claims: { wrapper: 'mov', codec: 'h264' },
  },
  'sound-early-ts': {
    what: 'Sound starts half a second before the picture, told by the time stamps of a transport stream',
    extension: 'ts',
    picture: latePicture,
    sound: { tracks: [2], seconds: 8.5 },
    encode: `${video} -c:a mp2`,
    claims: { wrapper: 'mpegts', codec: 'h264', exactSeek: false, splittable: undefined },
  },
  'sound-late-mov': {
    what: 'Sound starts half a second after the picture, told by an edit list',
    extension: 'mov',
    picture,
    sound: { tracks: [2], seconds: 7.5, startsSeconds: 0.5 },
    encode: `${video} -c:a pcm_s16le`,
    claims: { wrapper: 'mov', codec: 'h264' },
  },
  'sound-late-mkv': {
    what: 'Sound starts half a second after the picture, told by the time stamps of Matroska',
    extension: 'mkv',
    picture,
    sound: { tracks: [2], seconds: 7.5, startsSeconds: 0.5 },
    encode: `${video} -c:a flac`,
    claims: { wrapper: 'matroska', codec: 'h264' },
  },
  'no-sound-mp4': {
    what: 'No sound at all',
    extension: 'mp4',
    picture,
    encode: video,
    claims: { wrapper: 'mov', codec: 'h264' },
  },
  'eight-mono-mov': {
    what: 'Eight mono tracks, as a sound recordist delivers them',
    extension: 'mov',
    picture,
    sound: { tracks: [1, 1, 1, 1, 1, 1, 1, 1], seconds: 8 },
    encode: `${video} -c:a pcm_s16le`,
    claims: { wrapper: 'mov', codec: 'h264' },
  },
  'surround-mp4': {
    what: 'One track of 5.1 channels',
    extension: 'mp4',
    picture,
    sound: { tracks: [6], seconds: 8 },
    encode: `${video} -c:a aac -b:a 256k`,
    claims: { wrapper: 'mov', codec: 'h264' },
  },
} as const satisfies Record<string, SourceRecipe>;
