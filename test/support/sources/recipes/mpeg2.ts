// Interlaced MPEG-2 with open groups, in program and transport streams: long known, still hard to cut.
import { smallPicture } from '../small-picture.ts';
import type { SourceRecipe } from '../source-recipe.ts';

const interlaced = { ...smallPicture, fieldOrder: 'tff' } as const;
const encode =
  '-c:v mpeg2video -flags +ildct+ilme -bf 2 -g 12 -b:v 2M -maxrate 3M -bufsize 1M -c:a mp2 -b:a 192k';

export const mpeg2Recipes = {
  'mpeg2-ps-interlaced': {
    what: 'Interlaced MPEG-2 in a program stream, which starts at neither 0 nor a round time',
    extension: 'mpg',
    picture: interlaced,
    sound: { tracks: [2], seconds: 8 },
    encode: `${encode} -f vob -muxrate 4M`,
    claims: { wrapper: 'mpeg', codec: 'mpeg2video', exactSeek: false, splittable: undefined },
  },
  'mpeg2-ts-wrap': {
    what: 'Interlaced MPEG-2 in a transport stream whose 33-bit clock wraps 3.7 s after the first picture',
    extension: 'ts',
    picture: interlaced,
    sound: { tracks: [2], seconds: 8 },
    encode: `${encode} -f mpegts -output_ts_offset 95440 -muxdelay 0 -muxpreload 0`,
    claims: { wrapper: 'mpegts', codec: 'mpeg2video', exactSeek: false, splittable: undefined },
  },
  'mpeg2-ts-open-gop': {
    what: 'Progressive MPEG-2 with open groups in a transport stream, sound in two languages',
    extension: 'ts',
    picture: smallPicture,
    sound: { tracks: [2, 2], seconds: 8 },
    encode:
      '-c:v mpeg2video -bf 2 -g 12 -b:v 2M -maxrate 3M -bufsize 1M -c:a ac3 -b:a 192k -f mpegts ' +
      '-metadata:s:a:0 language=eng -metadata:s:a:1 language=deu',
    claims: { wrapper: 'mpegts', codec: 'mpeg2video', exactSeek: false, splittable: undefined },
  },
} as const satisfies Record<string, SourceRecipe>;
