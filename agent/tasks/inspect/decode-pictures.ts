// Decodes pictures of the source and lists their times and hashes, reading exactly as an encoder process reads.
import { formatRational, type Rational } from '#shared/rational.ts';
import { sourceInput } from '../../media/decode-args.ts';
import { parseFramehashLine, tellsOfDamage } from '../../media/facts/framehash-line.ts';
import { createNumberColumn } from '../../media/facts/number-column.ts';
import { quietOptions } from '../../media/safe-input.ts';
import { runTool } from '../../tools/run-tool.ts';
import { requireEnd } from './probe-source.ts';
import type { SourceFile } from './source-file.ts';

export type DecodeRun = {
  readonly source: SourceFile;
  /** Track index and seconds per tick. */
  readonly track: { readonly index: number; readonly timeBase: Rational };
  readonly signal: AbortSignal;
  readonly timeoutMs: number;
  /** Where to begin to read; null or absent at the head. */
  readonly seekSeconds?: string | null;
  /** Pictures before this timestamp are decoded and dropped. */
  readonly startTicks?: number;
  /** Stop after so many pictures; absent: at the end of the file. */
  readonly pictures?: number;
};

export type DecodedPictures = {
  /** In the order in which they are presented. */
  readonly pts: Float64Array;
  readonly hashes: Float64Array;
  /** Messages that tell of damage, the first ones. */
  readonly messages: readonly string[];
};

/** Throws MillError `timeout`; a decoder that fails shows as pictures that are missing. */
export async function decodePictures(run: DecodeRun): Promise<DecodedPictures> {
  const [times, hashes] = [createNumberColumn(), createNumberColumn()];
  const messages: string[] = [];
  const result = await runTool({
    tool: 'ffmpeg',
    args: decodeArgs(run),
    signal: run.signal,
    timeoutMs: run.timeoutMs,
    keepStdout: false,
    killAtOnce: true,
    onLine: (line, stream) => {
      if (stream === 'stderr') {
        if (messages.length < 20 && tellsOfDamage(line)) messages.push(line);
        return;
      }
      const picture = parseFramehashLine(line);
      if (picture) {
        times.push(picture.ticks);
        hashes.push(picture.hash);
      }
    },
  });
  requireEnd(run.source, result);
  return { pts: times.values(), hashes: hashes.values(), messages };
}

function decodeArgs({ source, track, seekSeconds, startTicks, pictures }: DecodeRun): string[] {
  return [
    quietOptions,
    ['-loglevel', 'repeat+level+warning', '-nostats'],
    sourceInput(source.local, source, seekSeconds ?? null),
    ['-map', `0:${track.index}`],
    startTicks === undefined ? [] : ['-vf', `trim=start_pts=${startTicks}`],
    pictures === undefined ? [] : ['-frames:v', String(pictures)],
    // One line a picture, with the track's own ticks: nothing repeated, dropped or rounded.
    ['-fps_mode', 'passthrough', '-enc_time_base', formatRational(track.timeBase)],
    ['-f', 'framehash', '-hash', 'murmur3', 'pipe:1'],
  ].flat();
}
