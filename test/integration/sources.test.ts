// Holds every test source against its own claims, so that a test that fails on a source fails for the
// product's sake. FFprobe reads them; MediaInfo, which shares no code with FFmpeg, is asked where it differs.
import { stat } from 'node:fs/promises';
import { describe, expect, it } from 'vitest';
import { mediaInfoTracks } from '../support/media-info.ts';
import { filterBitstream, pictureHashes, probe, readPackets } from '../support/probe.ts';
import { makeSource, type SourceName, sourceNames } from '../support/sources/make-source.ts';
import { type ObservedSource, observeSource } from '../support/sources/observe-source.ts';
import { realFootage } from '../support/sources/real-footage.ts';
import { cutsExactly } from '../support/sources/trial-cuts.ts';

/** MP2 and its kin leave up to 11 ms of their encoder's delay before the sound. */
const encoderDelaySeconds = 0.0115;

const observations = new Map<SourceName, Promise<ObservedSource>>();

describe.each(sourceNames)('%s', (name) => {
  it('is what its recipe says', async () => {
    const { exactSeek: _, splittable: __, audioStartsSeconds, ...claims } = (await makeSource(name)).expected;
    const observed = await observe(name);
    expect(observed.claims).toEqual(claims);
    expect(Math.abs((observed.audioStartsSeconds ?? 0) - (audioStartsSeconds ?? 0))).toBeLessThan(
      encoderDelaySeconds,
    );
  });

  it('has no two pictures alike', async () => {
    const hashes = (await observe(name)).pictures.map(({ md5 }) => md5);
    expect(new Set(hashes).size).toBe(hashes.length);
  });

  it('cuts at keyframes as it claims', async () => {
    const { path, expected } = await makeSource(name);
    expect(await cutsExactly(path, await observe(name))).toBe(expected.exactSeek);
  });
});

describe('random access', () => {
  it('closed H.264 groups begin with IDR pictures and nothing leads them', async () => {
    const { path } = await makeSource('h264-mp4-closed-gop');
    expect(await countNalUnits(path, [5])).toBe(5);
    expect(await countLeadingPackets(path)).toBe(0);
  });

  it('open H.264 groups begin with recovery points that pictures lead', async () => {
    const { path } = await makeSource('h264-mp4-open-gop');
    expect(await countNalUnits(path, [5])).toBe(1);
    expect(await countKeyframes(path)).toBe(5);
    expect(await countLeadingPackets(path)).toBeGreaterThanOrEqual(4);
  });

  it('open H.265 groups have skipped leading pictures, closed ones none', async () => {
    const open = await makeSource('hevc-mp4-open-gop');
    const closed = await makeSource('hevc-mkv-closed-gop');
    // ITU-T H.265 table 7-1: 8 and 9 are RASL pictures, 21 is a CRA picture.
    expect(await countNalUnits(open.path, [8, 9])).toBeGreaterThanOrEqual(4);
    expect(await countNalUnits(open.path, [21])).toBe(4);
    expect(await countNalUnits(closed.path, [8, 9, 21])).toBe(0);
  });

  it('MPEG-2 groups are open', async () => {
    for (const name of ['mpeg2-ps-interlaced', 'mpeg2-ts-wrap', 'mpeg2-ts-open-gop'] as const) {
      const { log } = await filterBitstream((await makeSource(name)).path, 'trace_headers');
      expect(log.match(/closed_gop\s+0 = 0/g)?.length).toBeGreaterThan(10);
    }
  });

  it('intra refresh has one keyframe, or flags on pictures that stand on earlier ones', async () => {
    const one = await makeSource('h264-mp4-one-keyframe');
    const misleading = await makeSource('h264-mp4-recovery-points');
    expect(await countKeyframes(one.path)).toBe(1);
    expect(await countKeyframes(misleading.path)).toBe(5);
    expect(await countNalUnits(misleading.path, [5])).toBe(1);
  });

  it('VP9 holds more frames than it shows', async () => {
    const { path, expected } = await makeSource('vp9-webm-hidden-frames');
    const { packets } = await filterBitstream(path, 'vp9_superframe_split');
    expect(packets).toBeGreaterThan(expected.frames);
  });
});

describe('time', () => {
  it('the transport stream wraps inside the file', async () => {
    const { path } = await makeSource('mpeg2-ts-wrap');
    const raw = (await readPackets(path, { inputOptions: ['-correct_ts_overflow', '0'] })).map(
      ({ ptsTicks }) => ptsTicks ?? 0,
    );
    // ISO/IEC 13818-1: 33 bits at 90 kHz.
    expect(Math.max(...raw)).toBeGreaterThan(2 ** 33 - 90_000);
    expect(raw.at(-1)).toBeLessThan(10 * 90_000);
  });

  it.each(['vfr-mp4', 'vfr-mkv'] as const)('%s has gaps of many lengths', async (name) => {
    const { pictures } = await observe(name);
    const gaps = pictures.slice(1).map(({ ptsTicks }, index) => ptsTicks - (pictures[index]?.ptsTicks ?? 0));
    expect(new Set(gaps).size).toBeGreaterThanOrEqual(5);
    expect(Math.min(...gaps)).toBeGreaterThan(0);
  });
});

describe('a second opinion', () => {
  it.each([
    ['vfr-mp4', { FrameRate_Mode: 'VFR' }],
    ['vfr-mkv', { FrameRate_Mode: 'VFR' }],
    [
      'rate-24000-1001',
      { FrameRate_Mode: 'CFR', FrameRate_Num: 24000, FrameRate_Den: 1001, FrameCount: 240 },
    ],
    [
      'rate-60000-1001',
      { FrameRate_Mode: 'CFR', FrameRate_Num: 60000, FrameRate_Den: 1001, FrameCount: 480 },
    ],
    ['mpeg2-ps-interlaced', { ScanType: 'Interlaced', ScanOrder: 'TFF' }],
    ['mpeg2-ts-wrap', { ScanType: 'Interlaced', ScanOrder: 'TFF', FrameCount: 200 }],
    ['h264-ts-interlaced', { ScanType: 'MBAFF', ScanOrder: 'TFF' }],
    ['rotated-mp4', { Rotation: '90.000' }],
    ['anamorphic-mp4', { PixelAspectRatio: 1.333, DisplayAspectRatio: 1.778 }],
    [
      'hevc-mp4-hdr10',
      { HDR_Format: 'SMPTE ST 2086', MaxCLL: 1000, MaxFALL: 400, transfer_characteristics: 'PQ' },
    ],
    ['dnxhr-mxf', { Format: 'VC-3', FrameCount: 200 }],
    ['av1-mkv-10-bit', { Format: 'AV1', BitDepth: 10 }],
  ] as const)('MediaInfo agrees about %s', async (name, video) => {
    const tracks = await mediaInfoTracks((await makeSource(name)).path);
    expect(tracks.find((track) => track['@type'] === 'Video')).toMatchObject(video);
  });

  it.each([
    ['prores-mov-tc-two-mono', '10:00:00:00'],
    ['dnxhr-mxf', '10:00:00:00'],
    ['drop-frame-mov', '00:00:55;00'],
  ] as const)('MediaInfo reads the timecode of %s', async (name, start) => {
    const tracks = await mediaInfoTracks((await makeSource(name)).path);
    expect(tracks.map((track) => track['TimeCode_FirstFrame'])).toContain(start);
  });
});

describe('the collection', () => {
  it('takes less than 150 MB', async () => {
    const paths = await Promise.all(sourceNames.map(async (name) => (await makeSource(name)).path));
    const sizes = await Promise.all(paths.map(async (path) => (await stat(path)).size));
    expect(sizes.reduce((sum, size) => sum + size, 0)).toBeLessThan(150e6);
  });

  it('has another sound in each of eight mono tracks', async () => {
    const { path } = await makeSource('eight-mono-mov');
    const sounds = Array.from({ length: 8 }, (_, index) => pictureHashes(path, { stream: `a:${index}` }));
    expect(new Set((await Promise.all(sounds)).map(String)).size).toBe(8);
  });

  it('knows the real footage', async () => {
    const footage = await realFootage();
    expect((await pictureHashes(footage.tree)).length).toBe(68);
    expect(
      (await readPackets(footage.megamindDamaged)).filter(({ ptsTicks }) => ptsTicks === undefined).length,
    ).toBeGreaterThan(0);
    const cup = (await probe(footage.cup)).streams.find((stream) => stream['codec_type'] === 'video');
    expect(cup).toMatchObject({ r_frame_rate: '26777/1000' });
  });
});

function observe(name: SourceName): Promise<ObservedSource> {
  const observation = observations.get(name) ?? makeSource(name).then(({ path }) => observeSource(path));
  observations.set(name, observation);
  return observation;
}

/** Counts network abstraction layer units of the given types, as FFmpeg's header tracer prints them. */
async function countNalUnits(path: string, types: readonly number[]): Promise<number> {
  const { log } = await filterBitstream(path, 'trace_headers');
  const found = [...log.matchAll(/nal_unit_type\s+[01]+ = (\d+)/g)].map(([, type]) => Number(type));
  return found.filter((type) => types.includes(type)).length;
}

async function countKeyframes(path: string): Promise<number> {
  return (await readPackets(path)).filter(({ keyframe }) => keyframe).length;
}

/** Packets that are stored after a keyframe and shown before it. */
async function countLeadingPackets(path: string): Promise<number> {
  let keyTicks = Number.NEGATIVE_INFINITY;
  let leading = 0;
  for (const { keyframe, ptsTicks = 0 } of await readPackets(path)) {
    keyTicks = keyframe ? ptsTicks : keyTicks;
    leading += ptsTicks < keyTicks ? 1 : 0;
  }
  return leading;
}
