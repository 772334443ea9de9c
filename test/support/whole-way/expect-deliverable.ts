// What holds for every deliverable of the matrix, whatever its format: grid, labels, likeness and the place of its sound,
// each measured on the file by programs and libraries that did not make it.
import { expect } from 'vitest';
import type { HouseFormat } from '#shared/house-format.ts';
import { builtInFormats } from '#shared/house-formats.ts';
import type { JobDetail } from '#shared/job.ts';
import { mediaInfoTracks } from '../media-info.ts';
import { type ObservedSource, observeSource } from '../sources/observe-source.ts';
import { readIsoPicture } from './iso-file.ts';
import { compareLikeness } from './likeness.ts';
import { probeOnce } from './read-once.ts';
import { type Film, gridFilters, toneMapFilters } from './reference.ts';
import { measureDelay, placeSound } from './sound.ts';

export type Delivered = {
  readonly source: Film;
  readonly format: HouseFormat;
  readonly job: JobDetail;
  /** The deliverable. */
  readonly path: string;
  readonly observed: ObservedSource;
};

export async function observeDelivered(source: Film, job: JobDetail, path: string): Promise<Delivered> {
  const format = builtInFormats.find(({ name }) => name === job.format.name);
  if (format === undefined) throw new Error(`no built-in format ${job.format.name}`);
  return { source, format, job, path, observed: await observeSource(path) };
}

/** The job went the straight way: in pieces where the source can be cut, every check passed, nothing made twice. */
export function expectStraightWay({ source, job }: Delivered): void {
  expect(job.checks.filter((check) => !check.ok)).toEqual([]);
  expect(job.failures).toEqual([]);
  expect(job.fallback).toBe('none');
  const grains = job.grains.total ?? 0;
  if (source.expected.splittable === true && grains > 1) {
    expect(job.plan?.wholeBecause).toBeNull();
    expect(job.segments.length, 'segments').toBeGreaterThanOrEqual(2);
  }
  if (source.expected.splittable === false) expect(job.plan?.wholeBecause).toEqual(expect.any(String));
}

const mostWaitSeconds = 0.15;

/** N2, Matroska: picture k stands at k / rate after the first, to the wrapper's millisecond (RFC 9559 section 11.3). */
export function expectMillisecondGrid({ source, observed }: Delivered): void {
  const { num, den } = source.expected.rate;
  expect(observed.clock).toEqual({ num: 1, den: 1000 });
  const first = observed.pictures[0]?.ptsTicks ?? 0;
  const due = observed.pictures.map((_, k) =>
    Number(roundedQuotient(1000n * BigInt(k) * BigInt(den), BigInt(num))),
  );
  expect(observed.pictures.map(({ ptsTicks }) => ptsTicks - first)).toEqual(due);
  // Sound that is early can't be hidden there, so that the picture waits for it, a little longer than it must.
  const early = Math.max(0, -(source.expected.audioStartsSeconds ?? 0));
  expect(first / 1000, 'start of the picture, seconds').toBeGreaterThanOrEqual(early);
  expect(first / 1000, 'start of the picture, seconds').toBeLessThanOrEqual(early + mostWaitSeconds);
}

/** N2 and N3, QuickTime and MP4: every picture at exactly k / rate, one sample description, nothing in decode time twice. */
export async function expectExactGrid({ source, format, path }: Delivered): Promise<void> {
  const { num, den } = source.expected.rate;
  const iso = await readIsoPicture(path);
  const due = Array.from(
    { length: source.framesDue },
    (_, k) => (BigInt(k) * BigInt(den) * BigInt(iso.timescale)) / BigInt(num),
  );
  expect((iso.timescale * den) % num, 'the clock holds every frame').toBe(0);
  expect(iso.shownAtTicks).toEqual(due.map(Number));
  expect(iso.decodedAtTicks.every((ticks, at) => at === 0 || ticks > (iso.decodedAtTicks[at - 1] ?? 0))).toBe(
    true,
  );
  expect(iso.sampleEntries).toEqual([format.picture.codec === 'h265' ? 'hvc1' : 'AVdh']);
  if (format.wrapper === 'mp4') expect(iso.headerFirst, 'plays before it is fully loaded').toBe(true);
}

/** Frames and timecode as MediaInfo reads them. */
export async function expectSecondOpinion({ source, format, path }: Delivered): Promise<void> {
  const tracks = await mediaInfoTracks(path);
  const video = tracks.find((track) => track['@type'] === 'Video');
  expect(tracks.filter((track) => track['@type'] === 'Video')).toHaveLength(1);
  expect(tracks.filter((track) => track['@type'] === 'Audio')).toHaveLength(source.expected.audio.length);
  if (format.wrapper === 'mkv') return;
  expect(Number(video?.['FrameCount'])).toBe(source.framesDue);
  expect(video?.['FrameRate_Mode'] ?? 'CFR').toBe('CFR');
  const timecode = tracks.find((track) => track['@type'] === 'Other' && track['Type'] === 'Time code');
  expect(timecode?.['TimeCode_FirstFrame']).toBe(source.expected.timecode?.start);
}

/** What the file says of itself, as the format keeps or changes it. */
export function expectLabels({ source, format, job, observed: { claims } }: Delivered): void {
  const { expected } = source;
  const keepsFields = format.picture.interlace === 'keep';
  const turned = expected.rotationDegrees % 180 !== 0;
  const kept = format.picture.size === 'source';
  const even = (size: number) => (format.picture.codec === 'ffv1' ? size : size - (size % 2));
  expect(claims).toMatchObject({
    frames: source.framesDue,
    rotationDegrees: 0,
    fieldOrder: keepsFields ? expected.fieldOrder : 'progressive',
    audio: expected.audio,
    coverArt: false,
    ...(kept && !turned && { width: even(expected.width), height: even(expected.height), sar: expected.sar }),
    ...(kept && turned && { width: even(expected.height), height: even(expected.width) }),
    ...(!kept && { sar: { num: 1, den: 1 } }),
  });
  const keepsLight = format.picture.codec === 'h265' && format.picture.hdr === 'keep';
  expect(claims.hdr).toEqual(keepsLight ? expected.hdr : undefined);
  if (expected.hdr !== undefined && !keepsLight)
    expect(job.plan?.notes.join()).toMatch(/dynamic range|light-level/);
}

/** Timecode of the first picture, as QuickTime's own track, MP4's or Matroska's tag tells it. */
export async function expectTimecode({ source, path }: Delivered): Promise<void> {
  const { streams, format } = await probeOnce(path);
  const tags = [...streams, format].flatMap((owner) => Object.entries(owner['tags'] ?? {}));
  const timecodes = tags.filter(([name]) => name.toLowerCase() === 'timecode').map(([, text]) => text);
  const due = source.expected.timecode?.start;
  expect([...new Set(timecodes)]).toEqual(due === undefined ? [] : [due]);
}

/** Colour labels are the source's, wherever it has any (ITU-T H.273 by FFmpeg's names). */
export async function expectColours({ source, format, path }: Delivered): Promise<void> {
  const [ours, theirs] = await Promise.all([readColours(path), readColours(source.path)]);
  const toneMapped = toneMapFilters(source, format).length > 0;
  // VC-3 tells its matrix in the stream and knows few; its range is limited whatever the source's is.
  const names = format.picture.codec === 'vc3' ? (['primaries', 'transfer'] as const) : colourNames;
  for (const name of names) {
    const due = toneMapped
      ? { primaries: 'bt709', transfer: 'bt709', matrix: 'bt709', range: 'tv' }[name]
      : theirs[name];
    if (due !== undefined && due !== 'unknown') expect(ours[name], name).toBe(due);
  }
}

const colourNames = ['primaries', 'transfer', 'matrix', 'range'] as const;

async function readColours(path: string): Promise<Record<(typeof colourNames)[number], unknown>> {
  const { streams } = await probeOnce(path);
  const picture = streams.find((stream) => stream['codec_type'] === 'video') ?? {};
  return {
    primaries: picture['color_primaries'],
    transfer: picture['color_transfer'],
    matrix: picture['color_space'],
    range: picture['color_range'],
  };
}

/** Samples of every border between two machines' work, and the film's ends: alike, and no neighbour is more alike. */
export async function expectLikeness({ source, format, job, path, observed }: Delivered): Promise<void> {
  const totalFrames = source.framesDue;
  const borders = job.segments.flatMap(({ state, first }) =>
    state === 'done' && first > 0 ? [first - 1, first] : [],
  );
  const frames = [...new Set([0, ...borders.slice(0, 4), totalFrames - 1])].toSorted((a, b) => a - b);
  const { width, height } = observed.claims;
  const found = await compareLikeness({
    reference: {
      path: source.path,
      filters: [
        ...gridFilters(source, format),
        `scale=${width}:${height}:flags=bicubic`,
        ...toneMapFilters(source, format),
      ],
    },
    deliverable: { path, filters: [] },
    frames,
    totalFrames,
    width,
    height,
  });
  expect(found.map(({ mostLike }) => mostLike)).toEqual(frames);
  expect(Math.min(...found.map(({ score }) => score))).toBeGreaterThanOrEqual(format.checks.likenessFloor);
}

/** EBU R37 allows a production step 5 ms of sound early and 15 ms late; here 5 ms either way. */
const mostDelaySeconds = 0.005;

export async function expectSoundInPlace({ source, path }: Delivered): Promise<void> {
  const [theirs, ours] = await Promise.all([placeSound(source.path), placeSound(path)]);
  for (const [track] of source.expected.audio.entries()) {
    const delay = await measureDelay(theirs, ours, track);
    expect(Math.abs(delay), `delay of sound track ${track + 1}, seconds`).toBeLessThanOrEqual(
      mostDelaySeconds,
    );
  }
}

/** Halves away from zero, as wrappers round. */
function roundedQuotient(num: bigint, den: bigint): bigint {
  return (2n * num + den) / (2n * den);
}
