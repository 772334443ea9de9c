// The check `labels`: every label of the plan that the wrapper can carry, and nothing else.
import { describe, expect, it } from 'vitest';
import type { Plan } from '#shared/plan.ts';
import { rational } from '#shared/rational.ts';
import { checkLabels, type LabelFacts } from '../../../../../agent/media/check/labels.ts';
import {
  type ProbeFrame,
  type ProbeHeader,
  probeHeaderSchema,
  probeStreamSchema,
} from '../../../../../agent/media/facts/probe-report.ts';
import { sampleFacts, sampleFormat, samplePlan } from '../../../../support/job-builders.ts';

// ITU-T H.273 code points 9 (BT.2020), 16 (SMPTE ST 2084) and 9 (BT.2020 non-constant) by ffmpeg's names.
const hdrColour = {
  primaries: 'bt2020',
  transfer: 'smpte2084',
  matrix: 'bt2020nc',
  range: 'tv',
  chromaLocation: 'left',
} as const;

const [sampleSound] = samplePlan.sound;
const plan: Plan = {
  ...samplePlan,
  picture: {
    ...samplePlan.picture,
    pixelFormat: 'yuv420p10le',
    colour: hdrColour,
    sampleAspect: rational(4, 3),
  },
  sound:
    sampleSound === undefined ? [] : [{ ...sampleSound, language: 'deu', title: 'Ton', isDefault: true }],
  timecode: '00:59:58;00',
};

const facts = sampleFacts({
  reelName: 'A001',
  tags: { title: 'Der Film', director: 'X', creation_time: '2024-05-06T07:08:09.000000Z' },
  chapters: [{ startSeconds: 2, endSeconds: 3, title: 'zwei' }],
});

const format = {
  ...sampleFormat,
  wrapper: 'mov' as const,
  picture: { ...sampleFormat.picture, codec: 'h265' as const },
};

const goodPicture = {
  index: 0,
  codec_type: 'video',
  codec_name: 'hevc',
  width: 320,
  height: 180,
  pix_fmt: 'yuv420p10le',
  sample_aspect_ratio: '4:3',
  field_order: 'progressive',
  color_primaries: 'bt2020',
  color_transfer: 'smpte2084',
  color_space: 'bt2020nc',
  color_range: 'tv',
  chroma_location: 'left',
  tags: { timecode: '00:59:58;00', reel_name: 'A001' },
};
const goodSound = {
  index: 1,
  codec_type: 'audio',
  disposition: { default: 1 },
  tags: { language: 'ger', handler_name: 'Ton' },
};
const goodRest = {
  format: { format_name: 'mov', tags: { title: 'Der Film', creation_time: '2024-05-06T07:08:09.000000Z' } },
  chapters: [
    { start_time: '0.000000', end_time: '2.000000', tags: {} },
    { start_time: '2.000000', end_time: '3.000000', tags: { title: 'zwei' } },
  ],
};

type Change = {
  picture?: object;
  sound?: object;
  rest?: object;
  facts?: Partial<LabelFacts>;
  frames?: ProbeFrame[];
};

function check({ picture = {}, sound = {}, rest = {}, facts: changed = {}, frames = [] }: Change = {}) {
  const header: ProbeHeader = probeHeaderSchema.parse({
    ...goodRest,
    ...rest,
    streams: [
      { ...goodPicture, ...picture },
      { ...goodSound, ...sound },
    ],
  });
  const track = header.streams[0] ?? probeStreamSchema.parse(goodPicture);
  return checkLabels({ facts, format, plan, header, picture: track, frames, start: rational(0), ...changed });
}

describe('labels', () => {
  it('pass when all are as planned, the language under its other code', () => {
    expect(check()).toMatchObject({
      ok: true,
      measured: '320×180, timecode 00:59:58;00; all labels as planned',
    });
  });

  it.each<[string, Change]>([
    ['the size', { picture: { width: 640 } }],
    ['the sample format', { picture: { pix_fmt: 'yuv420p' } }],
    ['the sample aspect', { picture: { sample_aspect_ratio: '1:1' } }],
    ['the turn', { picture: { side_data_list: [{ side_data_type: 'Display Matrix', rotation: -90 }] } }],
    ["the wrapper's field order", { picture: { field_order: 'tb' } }],
    ['the colour label primaries', { picture: { color_primaries: 'bt709' } }],
    ['the colour label transfer', { picture: { color_transfer: 'unknown' } }],
    ['the colour label range', { picture: { color_range: 'pc' } }],
    ['the colour label chromaLocation', { picture: { chroma_location: 'topleft' } }],
    // SMPTE ST 12-1: the drop-frame flag is part of the label.
    ['the timecode', { picture: { tags: { ...goodPicture.tags, timecode: '00:59:58:00' } } }],
    ['the reel name', { picture: { tags: { timecode: '00:59:58;00' } } }],
    ['the language of sound track 1', { sound: { tags: { ...goodSound.tags, language: 'eng' } } }],
    ['the title of sound track 1', { sound: { tags: { language: 'ger', handler_name: 'SoundHandler' } } }],
    ['sound track 1', { sound: { disposition: { default: 0 } } }],
    ['the tag title', { rest: { format: { format_name: 'mov', tags: {} } } }],
    ['the number of chapters', { rest: { chapters: [] } }],
  ])('fail for another %s', (what, change) => {
    const result = check(change);
    expect(result.ok).toBe(false);
    expect(result.measured).toContain(what);
  });

  it('fail for a chapter that moved', () => {
    const chapters = [goodRest.chapters[0], { ...goodRest.chapters[1], start_time: '2.010000' }];
    expect(check({ rest: { chapters } })).toMatchObject({
      ok: false,
      measured: 'chapter 2 begins at 2.01 s where 2 s is due',
    });
  });

  it('demand nothing that the plan leaves open', () => {
    const open = {
      ...plan,
      picture: { ...plan.picture, colour: { ...hdrColour, primaries: null, range: null } },
      timecode: null,
    };
    expect(
      check({
        picture: { color_primaries: 'bt709', color_range: undefined, tags: { reel_name: 'A001' } },
        facts: { plan: open },
      }).ok,
    ).toBe(true);
  });
});

describe('light levels', () => {
  // SMPTE ST 2086 (P3-D65 display, 1000 cd/m²) and CTA-861.3, as x265 stores them.
  const point = (x: number, y: number) =>
    [rational(x, 50_000), rational(y, 50_000)] as [ReturnType<typeof rational>, ReturnType<typeof rational>];
  const hdr = {
    masteringDisplay: {
      red: point(34_000, 16_000),
      green: point(13_250, 34_500),
      blue: point(7500, 3000),
      white: point(15_635, 16_450),
      minLuminance: rational(50, 10_000),
      maxLuminance: rational(1000),
    },
    contentLight: { maxContent: 1000, maxAverage: 400 },
  };
  const sideData = [
    {
      side_data_type: 'Mastering display metadata',
      ...{
        red_x: '34000/50000',
        red_y: '16000/50000',
        green_x: '13250/50000',
        green_y: '34500/50000',
        blue_x: '7500/50000',
      },
      ...{ blue_y: '3000/50000', white_point_x: '15635/50000', white_point_y: '16450/50000' },
      ...{ min_luminance: '50/10000', max_luminance: '10000000/10000' },
    },
    { side_data_type: 'Content light level metadata', max_content: 1000, max_average: 400 },
  ];
  const frame = (data: object[]) =>
    ({ interlaced_frame: 0, top_field_first: 0, tags: {}, side_data_list: data }) as ProbeFrame;
  const withHdr = { facts: { plan: { ...plan, picture: { ...plan.picture, hdr } } } };

  it('pass with equal numbers', () => {
    expect(check({ ...withHdr, frames: [frame(sideData)] }).ok).toBe(true);
  });

  it('fail when they vanished or changed', () => {
    expect(check({ ...withHdr, frames: [frame([])] }).measured).toContain(
      'the mastering display data are absent',
    );
    const other = sideData.map((data) => ({ ...data, max_content: 900, red_x: '35000/50000' }));
    const result = check({ ...withHdr, frames: [frame(other)] });
    expect(result.measured).toBe(
      'the mastering display data are others; the content light level is 900/400 where 1000/400 is due',
    );
  });
});

describe('field order', () => {
  it('is believed from the pictures, and the wrapper may not contradict them', () => {
    const interlaced = { ...plan, picture: { ...plan.picture, fieldOrder: 'top-first' as const } };
    const frames = [
      { interlaced_frame: 1, top_field_first: 1, tags: {}, side_data_list: [] },
    ] as ProbeFrame[];
    expect(check({ picture: { field_order: 'tt' }, facts: { plan: interlaced }, frames }).ok).toBe(true);
    expect(check({ picture: { field_order: 'tb' }, facts: { plan: interlaced }, frames }).ok).toBe(false);
    expect(check({ picture: { field_order: 'progressive' }, facts: { plan: interlaced } }).ok).toBe(false);
  });
});
