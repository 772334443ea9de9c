// Inspects every kind of source, by the way of long sources, and holds the facts against an independent reading: a full
// decode and ffprobe by test code that knows nothing of ours, and MediaInfo, which shares no code with FFmpeg.
import { describe, expect, it } from 'vitest';
import { type MediaFacts, mediaFactsSchema } from '#shared/facts.ts';
import { toNumber } from '#shared/rational.ts';
import { mediaInfoTracks } from '../support/media-info.ts';
import { readPackets } from '../support/probe.ts';
import { makeSource, type SourceName, sourceNames } from '../support/sources/make-source.ts';
import { type ObservedSource, observeSource } from '../support/sources/observe-source.ts';
import type { SourceExpectation } from '../support/sources/source-recipe.ts';
import { inspectFile } from '../support/tasks/inspect-file.ts';

/** MP2 and its kin leave up to 11 ms of their encoder's delay before the sound. */
const encoderDelaySeconds = 0.0115;

describe.each(sourceNames)('%s', (name) => {
  it('is inspected as an independent reading finds it', async () => {
    const { path, expected } = await makeSource(name);
    const [facts, observed] = [
      await inspectFile(path, { decodeShortWhole: false }),
      await observeSource(path),
    ];
    expect(mediaFactsSchema.parse(structuredClone(facts))).toEqual(facts);
    expect(claimsOf(facts)).toEqual(observed.claims);
    expectTimes(facts, observed);
    expectSound(facts, expected);
    expectCuts(facts, expected);
    await expectKeyframes(facts, observed, path);
  });
});

describe('a short source is decoded whole, and gives the same facts', () => {
  const names: SourceName[] = [
    'hevc-mp4-open-gop',
    'mpeg2-ts-wrap',
    'vfr-mkv',
    'dnxhr-mxf',
    'h264-mp4-one-keyframe',
  ];
  it.each(names)('%s', async (name) => {
    const { path } = await makeSource(name);
    expect(await inspectFile(path)).toEqual(await inspectFile(path, { decodeShortWhole: false }));
  });
});

describe('MediaInfo agrees', () => {
  it.each([
    'prores-mov-tc-two-mono',
    'dnxhr-mxf',
    'drop-frame-mov',
    'h264-mp4-closed-gop',
    'mpeg2-ts-wrap',
    'vfr-mp4',
    'rotated-mp4',
    'anamorphic-mp4',
    'av1-mkv-10-bit',
  ] as const)('about %s', async (name) => {
    const { path } = await makeSource(name);
    const facts = await inspectFile(path);
    const tracks = await mediaInfoTracks(path);
    const video = tracks.find((track) => track['@type'] === 'Video') ?? {};
    const told = {
      FrameCount: facts.picture.frames,
      BitDepth: facts.picture.bitDepth,
      Width: facts.picture.width,
    };
    expect(told).toMatchObject(onlyKnown(told, video));
    if ('ScanType' in video)
      expect(facts.picture.fieldOrder === 'progressive').toBe(video['ScanType'] === 'Progressive');
    if ('FrameRate_Mode' in video) expect(facts.picture.constantRate).toBe(video['FrameRate_Mode'] === 'CFR');
    if ('Rotation' in video) expect(facts.picture.rotation).toBe(Number(video['Rotation']));
    // Zero in an MPEG-2 group of pictures is what encoders write that know of no timecode.
    const labels = tracks
      .map((track) => track['TimeCode_FirstFrame'])
      .filter((label) => label !== undefined && label !== '00:00:00:00');
    if (labels.length > 0) expect(labels).toContain(facts.timecode?.text);
  });
});

/** The facts in the words of the test sources' claims. */
function claimsOf({ demuxer, picture, sound, timecode, otherTracks }: MediaFacts): ObservedSource['claims'] {
  const { masteringDisplay: mastering, contentLight } = picture.hdr ?? {};
  const fieldOrders = { progressive: 'progressive', 'top-first': 'tff', 'bottom-first': 'bff' } as const;
  return {
    wrapper: demuxer.split(',')[0] ?? '',
    codec: picture.codec,
    frames: picture.frames,
    rate: picture.rate,
    constantRate: picture.constantRate,
    width: picture.width,
    height: picture.height,
    sar: picture.sampleAspect,
    rotationDegrees: picture.rotation,
    fieldOrder: fieldOrders[picture.fieldOrder],
    bitDepth: picture.bitDepth,
    timecode: timecode === null ? undefined : { start: timecode.text, dropFrame: timecode.dropFrame },
    audio: sound.map(({ channels }) => channels),
    hdr:
      mastering && contentLight
        ? {
            masteringMaxNits: toNumber(mastering.maxLuminance),
            masteringMinNits: toNumber(mastering.minLuminance),
            maxContentNits: contentLight.maxContent,
            maxAverageNits: contentLight.maxAverage,
          }
        : undefined,
    coverArt: otherTracks.some(({ kind }) => kind === 'attached picture'),
  };
}

function expectTimes(
  { picture, containerStartSeconds }: MediaFacts,
  { pictures, clock, fileStartSeconds }: ObservedSource,
): void {
  expect(picture).toMatchObject({
    timeBase: clock,
    startTicks: pictures[0]?.ptsTicks,
    lastTicks: pictures.at(-1)?.ptsTicks,
  });
  expect(containerStartSeconds).toBe(fileStartSeconds);
  const nominal = clock.den / clock.num / toNumber(picture.rate);
  if (picture.constantRate) expect(Math.abs(picture.lastDurationTicks - nominal)).toBeLessThanOrEqual(0.5);
}

function expectSound({ sound }: MediaFacts, expected: SourceExpectation): void {
  for (const track of sound) {
    expect(Math.abs(track.startSeconds - (expected.audioStartsSeconds ?? 0))).toBeLessThan(
      encoderDelaySeconds,
    );
    expect(track.gaps).toBe(false);
  }
}

function expectCuts({ cuts, picture }: MediaFacts, expected: SourceExpectation): void {
  const splittable = cuts.verdict !== 'head-only';
  if (expected.splittable !== undefined) expect(splittable).toBe(expected.splittable);
  expect(cuts.verdict === 'anywhere').toBe(picture.allIntra);
  if (!expected.exactSeek && splittable) expect(cuts.leadKeyframes).toBeGreaterThan(0);
}

async function expectKeyframes(
  { picture }: MediaFacts,
  { pictures }: ObservedSource,
  path: string,
): Promise<void> {
  const ticks = (await readPackets(path)).filter(({ keyframe }) => keyframe).map(({ ptsTicks }) => ptsTicks);
  const due = pictures.flatMap(({ ptsTicks }, frame) =>
    ticks.includes(ptsTicks) ? [{ frame, ticks: ptsTicks }] : [],
  );
  expect(picture.keyframes).toEqual(picture.allIntra ? [] : due);
}

/** Of our own facts those that MediaInfo also tells, with its values. */
function onlyKnown(
  ours: Readonly<Record<string, number>>,
  theirs: Readonly<Record<string, unknown>>,
): Record<string, unknown> {
  return Object.fromEntries(
    Object.keys(ours)
      .filter((key) => theirs[key] !== undefined)
      .map((key) => [key, Number(theirs[key])]),
  );
}
