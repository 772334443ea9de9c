// Finds the pictures that a source really shows, in presentation order: from its packets where that is certain and
// confirmed at head and tail, else by decoding them all.
import { MillError } from '#shared/errors.ts';
import type { CutFacts } from '#shared/facts.ts';
import type { Rational } from '#shared/rational.ts';
import { listKeyframes } from '../../media/facts/keyframe-list.ts';
import {
  damageOf,
  fromFirstKeyframe,
  plainMessage,
  undecodableHead,
  whyDecodeAll,
} from '../../media/facts/picture-count.ts';
import type { ProbeStream } from '../../media/facts/probe-report.ts';
import { decodeLimitMs } from '../../media/facts/time-limits.ts';
import { picturesOfTrials, type TrialInput } from '../../media/facts/trial-plan.ts';
import { type DecodedPictures, type DecodeRun, decodePictures } from './decode-pictures.ts';
import type { Packets } from './probe-source.ts';
import type { SourceFile } from './source-file.ts';
import { type TrialOutcome, tryCuts } from './trial-cuts.ts';

export type CountInput = {
  readonly source: SourceFile;
  readonly track: ProbeStream;
  readonly timeBase: Rational;
  readonly containerStart: Rational;
  readonly packets: Packets;
  readonly signal: AbortSignal;
  /** Decode short sources whole, though their packets would do: it is as quick, and finds damage. */
  readonly decodeShortWhole: boolean;
};

export type CountedPictures = {
  /** Presentation order, ticks. */
  readonly pts: Float64Array;
  readonly cuts: CutFacts;
  readonly warnings: readonly string[];
};

/** Pictures at the head that are compared with the packets when not all are decoded. */
const headPictures = 48;

/** Throws MillError `source-damaged` when nothing decodes, `timeout`. */
export async function countPictures(input: CountInput): Promise<CountedPictures> {
  const { packets, track } = input;
  const why = whyDecodeAll(track.codec_name, packets.picture, packets.messages);
  if (why !== null || (input.decodeShortWhole && isShort(input))) return countByDecoding(input);
  const head = await decodePictures({ ...decodeRun(input), pictures: headPictures });
  const skipped = undecodableHead(packets.picture.pts, fromFirstKeyframe(packets.picture, head.pts));
  if (skipped === null) return countByDecoding(input);
  const pts = packets.picture.pts.subarray(skipped);
  const trial = await tryAt(input, pts, null);
  // Where cuts fail, or the tail isn't what the packets say, only a full decode can tell.
  if (trial.cuts.verdict === 'head-only' || !trial.endConfirmed) return countByDecoding(input);
  return { pts, cuts: trial.cuts, warnings: headWarning(skipped) };
}

async function countByDecoding(input: CountInput): Promise<CountedPictures> {
  const { packets, source, track } = input;
  const all = await decodePictures(decodeRun(input));
  const pts = fromFirstKeyframe(packets.picture, all.pts);
  if (pts.length === 0) throw nothingDecodes(source, track, all);
  const skipped = Math.max(0, packets.picture.pts.indexOf(pts[0] ?? 0));
  const damage = damageOf(packets.picture.counts, pts.length + skipped, [
    ...packets.messages,
    ...all.messages,
  ]);
  const warnings = [...headWarning(skipped), ...(damage === null ? [] : [damage])];
  const { cuts } = await tryAt(input, pts, all.hashes.subarray(all.pts.length - pts.length));
  return { pts, cuts, warnings };
}

/** Short: less to decode than the trials would, or some 130 pictures of 1920 × 1080, a second's work. */
function isShort(input: CountInput): boolean {
  const { packets, track } = input;
  const { pts } = packets.picture;
  return (
    pts.length * track.width * track.height <= 2 ** 28 ||
    pts.length <= headPictures + picturesOfTrials(trialInput(input, pts))
  );
}

function tryAt(input: CountInput, pts: Float64Array, whole: Float64Array | null): Promise<TrialOutcome> {
  return tryCuts({ input: trialInput(input, pts), decode: decodeRun(input), whole });
}

function trialInput(input: CountInput, pts: Float64Array): TrialInput {
  const { picture } = input.packets;
  return {
    keyframes: listKeyframes(input.track.codec_name, pts, picture.keyTicks),
    pts,
    timeBase: input.timeBase,
    containerStart: input.containerStart,
    demuxer: input.source.demuxer,
    leading: picture.counts.leading,
  };
}

function decodeRun({
  source,
  track,
  timeBase,
  signal,
  packets,
}: CountInput): Pick<DecodeRun, 'source' | 'track' | 'signal' | 'timeoutMs'> {
  const timeoutMs = decodeLimitMs(source.bytes, packets.picture.counts.packets);
  return { source, track: { index: track.index, timeBase }, signal, timeoutMs };
}

function headWarning(skipped: number): string[] {
  if (skipped === 0) return [];
  const pictures = skipped === 1 ? 'one picture at the head is' : `${skipped} pictures at the head are`;
  return [`${pictures} left out, because the pictures that they refer to were cut off`];
}

function nothingDecodes(source: SourceFile, track: ProbeStream, found: DecodedPictures): MillError {
  const message = found.messages[0] === undefined ? '' : `: ${plainMessage(found.messages[0])}`;
  return new MillError(
    'source-damaged',
    `no picture of ${source.name} decodes as ${track.codec_name}${message}; play it in another program, or export it anew`,
  );
}
