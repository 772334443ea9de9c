import { describe, expect, test } from 'vitest';
import { rational } from '#shared/rational.ts';
import { choosePicture } from '../../../../../agent/media/facts/choose-picture.ts';
import {
  bitDepthOf,
  colourOf,
  fieldOrderOf,
  rotationOf,
  sampleAspectOf,
} from '../../../../../agent/media/facts/labels.ts';
import { dynamicLightWarnings, lightLevelsOf } from '../../../../../agent/media/facts/light-levels.ts';
import { chaptersOf, otherTracksOf } from '../../../../../agent/media/facts/other-tracks.ts';
import {
  type ProbeFrame,
  type ProbeHeader,
  type ProbeStream,
  readFrames,
  readHeader,
} from '../../../../../agent/media/facts/probe-report.ts';
import { soundFactsOf } from '../../../../../agent/media/facts/sound-facts.ts';
import { keptTagsOf } from '../../../../../agent/media/facts/tags.ts';

function header(streams: readonly object[], more: object = {}): ProbeHeader {
  return readHeader(
    JSON.stringify({ streams: streams.map((stream, index) => ({ index, ...stream })), ...more }),
  );
}

function track(fields: object): ProbeStream {
  const [stream] = header([{ codec_type: 'video', ...fields }]).streams;
  if (!stream) throw new Error('no track');
  return stream;
}

function frames(...list: readonly object[]): readonly ProbeFrame[] {
  return readFrames(JSON.stringify({ frames: list }));
}

describe('the picture track', () => {
  const film = { codec_type: 'video', width: 1920, height: 1080 };
  const cover = { codec_type: 'video', width: 3000, height: 3000, disposition: { attached_pic: 1 } };

  test('is not the cover, though that is larger and comes first', () => {
    const choice = choosePicture(header([cover, { codec_type: 'audio' }, film]));
    expect(choice?.track.index).toBe(2);
    expect(choice?.reason).toContain('1 attached picture is left aside');
  });

  test('of several is the default one, else the largest, else the first', () => {
    const small = { codec_type: 'video', width: 320, height: 180 };
    expect(choosePicture(header([small, film, film]))?.track.index).toBe(1);
    expect(choosePicture(header([film, { ...small, disposition: { default: 1 } }]))?.track.index).toBe(1);
  });

  test('is missing where there are only covers and sound', () => {
    expect(choosePicture(header([cover, { codec_type: 'audio' }]))).toBeNull();
    expect(choosePicture(header([]))).toBeNull();
  });
});

describe('labels', () => {
  test('unknown colour is null, the first picture tells what the track does not', () => {
    const colour = colourOf(
      track({ color_primaries: 'bt709', color_transfer: 'unknown', color_range: 'tv' }),
      { color_transfer: 'bt709', chroma_location: 'left' },
    );
    expect(colour).toEqual({
      primaries: 'bt709',
      transfer: 'bt709',
      matrix: null,
      range: 'tv',
      chromaLocation: 'left',
    });
  });

  test.each<[string, number | undefined, number]>([
    ['yuv420p', undefined, 8],
    ['yuv420p', 8, 8],
    ['yuv422p10le', 10, 10],
    ['yuv420p9be', undefined, 9],
    ['yuv444p12le', undefined, 12],
    ['yuv422p16le', 12, 12],
    ['gray16be', undefined, 16],
    ['p010le', undefined, 10],
    ['p416le', undefined, 16],
    ['x2rgb10le', undefined, 10],
    ['rgb48le', undefined, 16],
    ['rgba64be', 10, 10],
    ['gbrpf32le', undefined, 32],
    ['nv20le', undefined, 10],
    ['rgb24', undefined, 8],
    ['bgr0', undefined, 8],
    ['pal8', undefined, 8],
  ])('%s with %s raw bits has %i', (format, raw, depth) => {
    expect(bitDepthOf(format, raw)).toBe(depth);
  });

  // The turns are those of a telephone's matrices (QuickTime File Format, matrix structure): a b / c d.
  test.each<{ rotation: number; matrix: number[]; degrees: number; odd?: RegExp }>([
    { rotation: -90, matrix: [0, 65_536, -65_536, 0], degrees: 90 },
    { rotation: 90, matrix: [0, -65_536, 65_536, 0], degrees: 270 },
    { rotation: -180, matrix: [-65_536, 0, 0, -65_536], degrees: 180 },
    { rotation: 180, matrix: [-65_536, 0, 0, -65_536], degrees: 180 },
    { rotation: 0, matrix: [65_536, 0, 0, 65_536], degrees: 0 },
    { rotation: 0, matrix: [-65_536, 0, 0, 65_536], degrees: 0, odd: /mirrored/ },
    { rotation: -30, matrix: [56_756, 32_768, -32_768, 56_756], degrees: 0, odd: /30°/ },
  ])(
    'ffmpeg’s rotation $rotation with matrix $matrix is $degrees clockwise',
    ({ rotation, matrix, degrees, odd }) => {
      const [a, b, c, d] = matrix;
      const row = (index: number, ...values: unknown[]) =>
        `0000000${index}: ${values.map((value) => String(value).padStart(11)).join(' ')}\n`;
      const displaymatrix = `\n${row(0, a, b, 0)}${row(1, c, d, 0)}${row(2, 0, 0, 1_073_741_824)}`;
      const found = rotationOf(
        track({ side_data_list: [{ side_data_type: 'Display Matrix', displaymatrix, rotation }] }),
      );
      expect(found.degrees).toBe(degrees);
      if (odd === undefined) expect(found.odd).toBeNull();
      else expect(found.odd).toMatch(odd);
    },
  );

  test('no matrix is no turn', () => {
    expect(rotationOf(track({}))).toEqual({ degrees: 0, odd: null });
  });

  test('sample aspect of nonsense is square', () => {
    expect(sampleAspectOf('4:3')).toEqual(rational(4, 3));
    for (const text of ['0:1', 'N/A', undefined]) expect(sampleAspectOf(text)).toEqual(rational(1));
  });
});

describe('field order', () => {
  const top = { interlaced_frame: 1, top_field_first: 1 };
  const bottom = { interlaced_frame: 1, top_field_first: 0 };
  const whole = { interlaced_frame: 0, top_field_first: 0 };

  test('decoded pictures are believed before the wrapper', () => {
    const contradicted = fieldOrderOf('tb', frames(whole, whole), 'prores');
    expect(contradicted).toEqual({
      order: 'progressive',
      odd: expect.stringContaining('wrapper says interlaced'),
    });
    expect(fieldOrderOf('progressive', frames(top, top, whole), 'h264').order).toBe('top-first');
    expect(fieldOrderOf('tt', frames(bottom, bottom, top), 'mpeg2video').order).toBe('bottom-first');
  });

  test('the wrapper decides where the codec says nothing; the second letter is the field that is shown first', () => {
    // FFmpeg, AVFieldOrder: TB is "top coded first, bottom displayed first".
    expect(fieldOrderOf('tt', frames(whole), 'mjpeg').order).toBe('top-first');
    expect(fieldOrderOf('bt', frames(whole), 'v210').order).toBe('top-first');
    expect(fieldOrderOf('tb', [], 'rawvideo').order).toBe('bottom-first');
    expect(fieldOrderOf('bb', [], 'ffv1').order).toBe('bottom-first');
    expect(fieldOrderOf(undefined, [], 'ffv1').order).toBe('progressive');
  });
});

describe('light levels', () => {
  const mastering = {
    side_data_type: 'Mastering display metadata',
    red_x: '34000/50000',
    red_y: '16000/50000',
    green_x: '13250/50000',
    green_y: '34500/50000',
    blue_x: '7500/50000',
    blue_y: '3000/50000',
    white_point_x: '15635/50000',
    white_point_y: '16450/50000',
    min_luminance: '50/10000',
    max_luminance: '10000000/10000',
  };

  test('of the first pictures are read as exact fractions', () => {
    const light = { side_data_type: 'Content light level metadata', max_content: 1000, max_average: 400 };
    const found = lightLevelsOf(track({}), frames({ side_data_list: [mastering, light] }));
    expect(found?.masteringDisplay).toMatchObject({
      red: [rational(17, 25), rational(8, 25)],
      minLuminance: rational(1, 200),
      maxLuminance: rational(1000),
    });
    expect(found?.contentLight).toEqual({ maxContent: 1000, maxAverage: 400 });
  });

  test('incomplete ones and empty ones are none', () => {
    const { red_x: _, ...incomplete } = mastering;
    const empty = { side_data_type: 'Content light level metadata', max_content: 0, max_average: 0 };
    expect(lightLevelsOf(track({ side_data_list: [incomplete, empty] }), [])).toBeNull();
  });

  test('data that changes from picture to picture is warned of', () => {
    expect(
      dynamicLightWarnings(track({ side_data_list: [{ side_data_type: 'DOVI configuration record' }] }), []),
    ).toHaveLength(1);
    expect(dynamicLightWarnings(track({}), [])).toEqual([]);
  });
});

describe('sound tracks', () => {
  const span = { startSeconds: 1.5, endSeconds: 3.5, breaks: 0 };
  const sound = (fields: object) =>
    soundFactsOf(track({ codec_type: 'audio', sample_rate: '48000', channels: 2, ...fields }), span, 1);

  test('stand against the picture', () => {
    expect(
      sound({
        codec_name: 'pcm_s24le',
        sample_fmt: 's32',
        bits_per_sample: 24,
        tags: { language: 'eng', title: 'Mix' },
      }),
    ).toMatchObject({
      startSeconds: 0.5,
      durationSeconds: 2,
      significantBits: 24,
      layout: null,
      language: 'eng',
      title: 'Mix',
      gaps: false,
    });
  });

  test.each<[object, number]>([
    [{ codec_name: 'pcm_s24le', sample_fmt: 's32', bits_per_raw_sample: '24', bits_per_sample: 24 }, 24],
    [{ codec_name: 'pcm_s16le', sample_fmt: 's16', bits_per_sample: 16 }, 16],
    [{ codec_name: 'pcm_f32le', sample_fmt: 'flt', bits_per_sample: 32 }, 0],
    [{ codec_name: 'pcm_alaw', sample_fmt: 's16', bits_per_sample: 8 }, 0],
    [{ codec_name: 'flac', sample_fmt: 's32', bits_per_raw_sample: '20' }, 20],
    [{ codec_name: 'alac', sample_fmt: 's16p', bits_per_raw_sample: '16' }, 16],
    [{ codec_name: 'truehd', sample_fmt: 's32' }, 32],
    [{ codec_name: 'aac', sample_fmt: 'fltp' }, 0],
    [{ codec_name: 'mp2', sample_fmt: 's16p' }, 0],
    [{ codec_name: 'dts', sample_fmt: 's32p', profile: 'DTS-HD MA', bits_per_raw_sample: '24' }, 24],
    [{ codec_name: 'dts', sample_fmt: 'fltp', profile: 'DTS' }, 0],
  ])('%j has %i significant bits', (fields, bits) => {
    expect(sound(fields)?.significantBits).toBe(bits);
  });

  test('what can not be decoded is no sound track', () => {
    expect(sound({ codec_name: 'unknown' })).toBeNull();
    expect(
      soundFactsOf(
        track({ codec_type: 'audio', sample_rate: '48000', channels: 2, sample_fmt: 's16' }),
        null,
        0,
      ),
    ).toBeNull();
  });
});

describe('texts', () => {
  test('the film’s tags stay, the writer’s go', () => {
    const tags = {
      TITLE: 'Day 3',
      encoder: 'Lavf59',
      major_brand: 'qt  ',
      'com.apple.quicktime.make': 'Maker',
      creation_time: '2025-03-01T10:00:00.000000Z',
      copyright: ' ',
    };
    expect(keptTagsOf(tags)).toEqual({
      title: 'Day 3',
      make: 'Maker',
      creation_time: '2025-03-01T10:00:00.000000Z',
    });
  });

  test('chapters count from the first picture', () => {
    const chapters = [
      { start_time: '0.000000', end_time: '1.000000', tags: { title: 'slate' } },
      { start_time: '1.000000', end_time: '5.000000', tags: { title: 'scene' } },
      { start_time: '5.000000', end_time: '6.500000' },
    ];
    expect(chaptersOf(header([], { chapters }), rational(3, 2))).toEqual([
      { startSeconds: 0, endSeconds: 3.5, title: 'scene' },
      { startSeconds: 3.5, endSeconds: 5, title: '' },
    ]);
  });

  test('other tracks are listed with what becomes of them', () => {
    const streams = [
      { codec_type: 'video', codec_name: 'h264' },
      { codec_type: 'data', codec_tag_string: 'tmcd' },
      { codec_type: 'subtitle', codec_name: 'eia_608' },
      { codec_type: 'video', codec_name: 'mjpeg', disposition: { attached_pic: 1 } },
    ];
    const others = otherTracksOf(header(streams), new Set([0]));
    expect(others.map(({ index, kind, codec }) => [index, kind, codec])).toEqual([
      [1, 'timecode', 'tmcd'],
      [2, 'subtitle', 'eia_608'],
      [3, 'attached picture', 'mjpeg'],
    ]);
    expect(others.every(({ note }) => note.length > 0)).toBe(true);
  });
});
