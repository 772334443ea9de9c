// The sound checks: both sides are decoded whole, once, and compared in length, layout, loudness and place in time.
import { readFile } from 'node:fs/promises';
import path from 'node:path';
import type { CheckResult } from '#shared/check.ts';
import { MillError } from '#shared/errors.ts';
import { multiply, type Rational, rational, toDecimal, toNumber } from '#shared/rational.ts';
import type { CheckTask } from '#shared/task.ts';
import type { SoundTap } from '../../media/check/sound-graph.ts';
import { checkSoundOffset, type TrackOffset } from '../../media/check/sound-offset.ts';
import { sampleEncoder, soundPair, soundSide } from '../../media/check/sound-pairs.ts';
import { type Heard, listen } from '../../media/check/sound-places.ts';
import { soundTap, startDifference } from '../../media/check/sound-taps.ts';
import { checkLoudness, checkSoundLayout, checkSoundLength } from '../../media/check/sound-tracks.ts';
import type { ProbeStream } from '../../media/facts/probe-report.ts';
import { type PlannedSound, plannedSound } from '../../media/planned-sound.ts';
import type { CheckFile } from './check-file.ts';
import { type Decoded, runDecode } from './run-decode.ts';

export type SoundSides = {
  readonly file: CheckFile;
  /** The source's path on this machine. */
  readonly source: string;
  /** Where frame 0 stands in the deliverable, seconds. */
  readonly start: Rational;
  readonly scratch: string;
  readonly signal: AbortSignal;
  readonly timeoutMs: number;
};

/**
 * The checks `sound-length`, `sound-layout`, `sound-offset` and `loudness`. `decoding`: the full decode of the deliverable,
 * its taps being `deliverableTaps`; the source is decoded meanwhile.
 */
export async function measureSound(
  task: CheckTask,
  sides: SoundSides,
  decoding: Promise<Decoded>,
): Promise<CheckResult[]> {
  const { file } = sides;
  const tracks = plannedSound(task).slice(0, file.sound.length);
  const source = tracks.length === 0 ? null : await decodeSourceSound(task, tracks, sides);
  const decoded = await decoding;
  const pairs = tracks.map(({ way, track }, i) =>
    soundPair({
      number: i + 1,
      wrapper: task.format.wrapper,
      way,
      track,
      source: soundSide(track, source?.sound[i]),
      deliverable: soundSide(streamShape(file.sound[i]), decoded.sound[i]),
    }),
  );
  const sound = { pairs, tracksDue: task.plan.sound.length };
  const offsets: TrackOffset[] = [];
  for (const [i, one] of tracks.entries()) offsets.push(await listenToTrack(task, sides, { one, i }));
  return [checkSoundLength(sound), checkSoundLayout(sound), checkSoundOffset(offsets), checkLoudness(sound)];
}

/** What to measure of the deliverable's sound while it is decoded whole. */
export function deliverableTaps(task: CheckTask, file: CheckFile): SoundTap[] {
  return plannedSound(task)
    .slice(0, file.sound.length)
    .map((one, i) => ({
      ...soundTap(one, task.format.wrapper),
      input: `0:a:${i}`,
      channels: file.sound[i]?.channels ?? 1,
      fillGaps: false,
    }));
}

export function sampleEncodersOf(task: CheckTask): string[] {
  return plannedSound(task).map(({ track }) => sampleEncoder(track));
}

/** Where what is heard of a track is written. */
export function heardFile(
  scratch: string,
  side: 'source' | 'deliverable',
): (tap: number, place: string) => string {
  return (tap, place) => path.join(scratch, `${side}-${tap}-${place}.f32`);
}

async function decodeSourceSound(
  task: CheckTask,
  tracks: readonly PlannedSound[],
  sides: SoundSides,
): Promise<Decoded> {
  const { picture } = task.facts;
  const decoded = await runDecode(
    {
      local: sides.source,
      demuxer: task.source.demuxer,
      strict: false,
      picture: null,
      sound: tracks.map((one) => ({ ...soundTap(one, task.format.wrapper), input: `0:${one.track.index}` })),
      sampleEncoders: sampleEncodersOf(task),
      pictureStart: toDecimal(multiply(rational(picture.startTicks), picture.timeBase), 9, 'nearest'),
      heardFile: heardFile(sides.scratch, 'source'),
    },
    sides,
  );
  if (decoded.sound.some((one) => one.samples > 0)) return decoded;
  throw new MillError(
    'check-failed',
    `the source's sound could not be decoded to compare it: ${decoded.errors.join('; ') || 'no samples'}`,
  );
}

async function listenToTrack(
  task: CheckTask,
  sides: SoundSides,
  { one, i }: { one: PlannedSound; i: number },
): Promise<TrackOffset> {
  const { wrapper } = task.format;
  const heard: Heard[] = [];
  for (const { place } of soundTap(one, wrapper).regions) {
    const source = await readHeard(heardFile(sides.scratch, 'source')(i, place));
    heard.push(listen(place, source, await readHeard(heardFile(sides.scratch, 'deliverable')(i, place))));
  }
  const startSeconds = Number(sides.file.sound[i]?.start_time ?? 0) - toNumber(sides.start);
  return { track: i + 1, heard, startDifferenceSeconds: startDifference(one, wrapper, startSeconds) };
}

/** Nothing to hear where a run ended before it wrote anything. */
async function readHeard(file: string): Promise<Float32Array> {
  const bytes = await readFile(file).catch(() => new Uint8Array());
  // A copy, since a buffer may begin anywhere in its memory and floats may not.
  return new Float32Array(new Uint8Array(bytes).buffer, 0, bytes.byteLength >> 2);
}

function streamShape(stream: ProbeStream | undefined) {
  return {
    sampleRate: stream?.sample_rate ?? 0,
    channels: stream?.channels ?? 0,
    layout: stream?.channel_layout ?? null,
  };
}
