import { describe, expect, test } from 'vitest';
import { parseRational, type Rational, rational } from '#shared/rational.ts';
import { readFrames, readHeader } from '../../../../../agent/media/facts/probe-report.ts';
import { findLabel, findReelName } from '../../../../../agent/media/facts/timecode-label.ts';

type Case = {
  readonly streams?: readonly object[];
  readonly format?: object;
  readonly frames?: readonly object[];
  readonly rate?: string;
  readonly pictureStart?: Rational;
  readonly timecodeStart?: Rational;
};

function label({
  streams = [],
  format = {},
  frames = [],
  rate = '25',
  pictureStart = rational(0),
  timecodeStart,
}: Case) {
  const all = [
    { index: 0, codec_type: 'video' },
    ...streams.map((stream, i) => ({ index: i + 1, ...stream })),
  ];
  const header = readHeader(JSON.stringify({ streams: all, format }));
  const [picture] = header.streams;
  if (!picture) throw new Error('no picture');
  return findLabel({
    header,
    picture,
    frames: readFrames(JSON.stringify({ frames })),
    rate: parseRational(rate) ?? rational(25),
    pictureStart,
    timecodeStarts: timecodeStart ? [timecodeStart] : [],
  });
}

const timecodeTrack = (timecode: string) => ({
  codec_type: 'data',
  codec_tag_string: 'tmcd',
  tags: { timecode },
});

describe('the first label', () => {
  test('is the timecode track’s before the container’s', () => {
    const found = label({
      streams: [timecodeTrack('10:00:00:00')],
      format: { tags: { TIMECODE: '01:00:00:00' } },
    });
    expect(found.timecode).toEqual({ text: '10:00:00:00', dropFrame: false, from: 'timecode track' });
    expect(label({ format: { tags: { TIMECODE: '01:00:00:00' } } }).timecode).toMatchObject({
      text: '01:00:00:00',
      from: 'container',
    });
  });

  test('keeps its drop-frame flag where the rate has one (SMPTE ST 12-1)', () => {
    const found = label({ streams: [timecodeTrack('00:00:59;29')], rate: '30000/1001' });
    expect(found.timecode).toMatchObject({ text: '00:00:59;29', dropFrame: true });
  });

  test('moves on with the pictures that an edit list hides, over a drop-frame minute too', () => {
    const hidden = { timecodeStart: rational(-2002, 30_000), rate: '30000/1001' };
    const found = label({ streams: [timecodeTrack('00:00:59;28')], ...hidden });
    expect(found.timecode?.text).toBe('00:01:00;02');
    expect(found.timecode?.from).toContain('2 frames after');
  });

  test('is the film’s first even where the picture begins after the timecode', () => {
    const late = label({
      streams: [timecodeTrack('10:00:00:00')],
      timecodeStart: rational(0),
      pictureStart: rational(1, 2),
      rate: '24',
    });
    expect(late.timecode?.text).toBe('10:00:00:12');
  });

  test('comes from the picture itself last of all, and zero there means nothing', () => {
    const stamped = (value: string) => [
      { side_data_list: [{ side_data_type: 'SMPTE 12-1 timecode', timecodes: [{ value }] }] },
    ];
    expect(label({ frames: stamped('09:08:07:06') }).timecode).toMatchObject({
      text: '09:08:07:06',
      from: 'first picture',
    });
    expect(label({ frames: stamped('00:00:00:00') }).timecode).toBeNull();
    expect(label({ frames: [{ tags: { timecode: '00:00:00:00' } }] }).timecode).toBeNull();
  });

  test('that is no label, or drops frames at a rate without, is left out with a warning', () => {
    for (const wrong of ['10:00:00:25', '99:00:00:00', 'abc']) {
      const found = label({ format: { tags: { timecode: wrong } } });
      expect(found.timecode).toBeNull();
      expect(found.warning).toContain(wrong);
    }
    const found = label({ format: { tags: { timecode: '10:00:00;00' } } });
    expect(found).toMatchObject({ timecode: null, warning: expect.stringContaining('drops frames') });
  });

  test('is missing without a warning where nothing was written', () => {
    expect(label({})).toEqual({ timecode: null, warning: null });
  });
});

test('the reel is named by the timecode track or the container', () => {
  const tagged = (tags: object) => readHeader(JSON.stringify({ streams: [{ index: 0, tags }], format: {} }));
  expect(findReelName(tagged({ reel_name: 'A001R1' }))).toBe('A001R1');
  expect(findReelName(tagged({}))).toBeNull();
});
