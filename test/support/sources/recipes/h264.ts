// H.264 in its kinds of random access: closed and open groups, one keyframe only, and flags that mislead.
import { perSecond, smallPicture } from '../small-picture.ts';
import type { SourceRecipe } from '../source-recipe.ts';

const x264 = '-c:v libx264 -preset veryfast -crf 24';

export const h264Recipes = {
  'h264-mp4-closed-gop': {
    what: 'H.264 with closed groups of 50 pictures and AAC sound: the plain case',
    extension: 'mp4',
    picture: { ...smallPicture, frames: 250 },
    sound: { tracks: [2], seconds: 10 },
    encode: `${x264} -x264-params keyint=50:min-keyint=50:scenecut=0:bframes=2:open-gop=0 -c:a aac -movflags +faststart`,
    claims: { wrapper: 'mov', codec: 'h264' },
  },
  'h264-mp4-open-gop': {
    what: 'H.264 with open groups and B-pyramids: pictures before a keyframe refer back across it',
    extension: 'mp4',
    picture: { ...smallPicture, frames: 250 },
    sound: { tracks: [2], seconds: 10 },
    encode: `${x264} -x264-params keyint=50:min-keyint=50:scenecut=0:bframes=3:b-adapt=0:b-pyramid=normal:open-gop=1 -c:a aac`,
    claims: { wrapper: 'mov', codec: 'h264' },
  },
  'h264-mp4-one-keyframe': {
    what: 'H.264 with intra refresh and its recovery point messages removed: one keyframe, the first picture',
    extension: 'mp4',
    picture: { ...smallPicture, frames: 250 },
    // Type 6 is the SEI unit; the transport stream makes FFmpeg parse the pictures and set the flags anew.
    remux: { firstExtension: 'ts', options: '' },
    encode: `${x264} -x264-params intra-refresh=1:keyint=50:bframes=0 -bsf:v filter_units=remove_types=6 -muxdelay 0`,
    claims: { wrapper: 'mov', codec: 'h264', splittable: false },
  },
  'h264-mp4-recovery-points': {
    what: 'H.264 with intra refresh whose P pictures at recovery points are flagged as keyframes: cut there, 18 are lost',
    extension: 'mp4',
    picture: { ...smallPicture, frames: 250 },
    encode: `${x264} -x264-params intra-refresh=1:keyint=50:bframes=0`,
    claims: { wrapper: 'mov', codec: 'h264', exactSeek: false, splittable: undefined },
  },
  'h264-ts-interlaced': {
    what: 'Interlaced H.264, top field first, in a transport stream as broadcast',
    extension: 'ts',
    picture: { ...smallPicture, height: 192, fieldOrder: 'tff' },
    sound: { tracks: [2], seconds: 8 },
    encode: `${x264} -flags +ildct+ilme -x264-params tff=1:keyint=25:bframes=2 -c:a mp2`,
    claims: { wrapper: 'mpegts', codec: 'h264', exactSeek: false, splittable: undefined },
  },
  'h264-mp4-1080': {
    what: 'H.264 of 1080 lines at 50 frames/s, for what only shows at a real size',
    extension: 'mp4',
    picture: { width: 1920, height: 1080, rate: perSecond(50), frames: 200, pixelFormat: 'yuv420p' },
    sound: { tracks: [2], seconds: 4 },
    encode: '-c:v libx264 -preset ultrafast -crf 28 -g 50 -c:a aac',
    claims: { wrapper: 'mov', codec: 'h264' },
  },
} as const satisfies Record<string, SourceRecipe>;
