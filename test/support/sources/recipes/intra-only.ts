// Sources whose every picture is a keyframe: what edit and camera formats are, and what cuts anywhere.
import { perSecond, smallPicture } from '../small-picture.ts';
import type { SourceRecipe } from '../source-recipe.ts';

export const intraOnlyRecipes = {
  'prores-mov-tc-two-mono': {
    what: 'ProRes 422 Proxy with timecode and two mono tracks, as a camera or an edit system writes it',
    extension: 'mov',
    picture: { ...smallPicture, frames: 250, pixelFormat: 'yuv422p10le' },
    sound: { tracks: [1, 1], seconds: 10 },
    timecode: '10:00:00:00',
    encode: '-c:v prores -profile:v 0 -c:a pcm_s24le -metadata:s:v:0 reel_name=A001R1',
    claims: { wrapper: 'mov', codec: 'prores' },
  },
  'prores-mov-1080': {
    what: 'ProRes 422 Proxy of 1080 lines at 23.976, for what only shows at a real size',
    extension: 'mov',
    picture: {
      width: 1920,
      height: 1080,
      rate: perSecond(24000, 1001),
      frames: 96,
      pixelFormat: 'yuv422p10le',
    },
    sound: { tracks: [2], seconds: 4.004 },
    timecode: '01:00:00:00',
    encode: '-c:v prores -profile:v 0 -c:a pcm_s16le',
    claims: { wrapper: 'mov', codec: 'prores' },
  },
  'dnxhr-mxf': {
    what: 'DNxHR LB in MXF with timecode and sound',
    extension: 'mxf',
    picture: { ...smallPicture, pixelFormat: 'yuv422p' },
    sound: { tracks: [1, 1], seconds: 8 },
    timecode: '10:00:00:00',
    encode: '-c:v dnxhd -profile:v dnxhr_lb -c:a pcm_s24le',
    claims: { wrapper: 'mxf', codec: 'dnxhd' },
  },
  'mjpeg-avi': {
    what: 'Motion JPEG in AVI, a wrapper without presentation times',
    extension: 'avi',
    picture: { ...smallPicture, pixelFormat: 'yuvj420p' },
    sound: { tracks: [2], seconds: 8 },
    encode: '-c:v mjpeg -q:v 6 -c:a pcm_s16le',
    claims: { wrapper: 'avi', codec: 'mjpeg' },
  },
  'ffv1-mkv-odd-size': {
    what: 'Odd width and height, 4:2:0 so that the last column and line have half a chroma sample',
    extension: 'mkv',
    // The pattern is drawn in 4:4:4; in 4:2:0 it would round its size down.
    picture: { ...smallPicture, width: 321, height: 181, frames: 150, filters: 'format=yuv444p' },
    encode: '-c:v ffv1 -level 3 -slicecrc 1 -g 1',
    claims: { wrapper: 'matroska', codec: 'ffv1' },
  },
} as const satisfies Record<string, SourceRecipe>;
