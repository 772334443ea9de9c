// H.265: open groups with skipped leading pictures, and 10-bit high dynamic range with its light levels.
import { smallPicture } from '../small-picture.ts';
import type { SourceRecipe } from '../source-recipe.ts';

const masterDisplay = 'G(13250,34500)B(7500,3000)R(34000,16000)WP(15635,16450)L(10000000,50)';

export const hevcRecipes = {
  'hevc-mp4-open-gop': {
    what: 'H.265 with open groups: leading pictures (RASL) can not be decoded after a cut at their keyframe',
    extension: 'mp4',
    picture: { ...smallPicture, frames: 250 },
    sound: { tracks: [2], seconds: 10 },
    encode:
      '-c:v libx265 -preset ultrafast -crf 26 -tag:v hvc1 -c:a aac ' +
      '-x265-params log-level=error:open-gop=1:keyint=50:min-keyint=50:scenecut=0:bframes=4:b-adapt=0:b-pyramid=1',
    claims: { wrapper: 'mov', codec: 'hevc', exactSeek: false, splittable: undefined },
  },
  'hevc-mkv-closed-gop': {
    what: 'H.265 with closed groups in Matroska, whose clock counts milliseconds',
    extension: 'mkv',
    picture: { ...smallPicture, frames: 250 },
    sound: { tracks: [2], seconds: 10 },
    encode:
      '-c:v libx265 -preset ultrafast -crf 26 -c:a libopus ' +
      '-x265-params log-level=error:open-gop=0:keyint=50:min-keyint=50:scenecut=0:bframes=3',
    claims: { wrapper: 'matroska', codec: 'hevc' },
  },
  'hevc-mp4-hdr10': {
    what: '10-bit PQ in BT.2020 with mastering display and content light level',
    extension: 'mp4',
    picture: {
      ...smallPicture,
      pixelFormat: 'yuv420p10le',
      filters: 'setparams=color_primaries=bt2020:color_trc=smpte2084:colorspace=bt2020nc:range=tv',
    },
    sound: { tracks: [2], seconds: 8 },
    encode:
      '-c:v libx265 -preset ultrafast -crf 26 -tag:v hvc1 -c:a aac -x265-params log-level=error:' +
      'keyint=50:open-gop=0:hdr10=1:repeat-headers=1:colorprim=bt2020:transfer=smpte2084:colormatrix=bt2020nc:' +
      `master-display=${masterDisplay}:max-cll=1000,400`,
    claims: {
      wrapper: 'mov',
      codec: 'hevc',
      hdr: { masteringMaxNits: 1000, masteringMinNits: 0.005, maxContentNits: 1000, maxAverageNits: 400 },
    },
  },
} as const satisfies Record<string, SourceRecipe>;
