// Arguments for the one full decode of a file in the check task, by software, stopping at the first error, with every
// measure that can be taken on the way.
import { fileInput, guardOptions, quietOptions } from '../safe-input.ts';
import { type SoundTap, soundGraph } from './sound-graph.ts';
import { listeningRate } from './sound-places.ts';

export type DecodeRun = {
  readonly local: string;
  readonly demuxer: string;
  /** Stop at the first error: for our own file, not for a source whose flaws are known. */
  readonly strict: boolean;
  /** Decode the picture too; `hashed` writes a hash of each picture, `spots` are arguments of one more output. Null: sound only. */
  readonly picture: { readonly hashed: boolean; readonly spots: readonly string[] } | null;
  readonly sound: readonly SoundTap[];
  /** Encoders that keep every decoded sample, one a track, for the hash over all of them. */
  readonly sampleEncoders: readonly string[];
  /** Where the first presented picture stands on the file's own clock, decimal seconds. */
  readonly pictureStart: string;
  /** Path for what is heard of track `tap` at `place`. */
  readonly heardFile: (tap: number, place: string) => string;
};

export function decodeArgs(run: DecodeRun): string[] {
  const { graph, whole, heard } = soundGraph(run.sound, run.pictureStart);
  const heardOutputs = heard.flatMap(({ pad, tap, region }) => [
    ...['-map', pad, '-c:a', 'pcm_f32le', '-ar', String(listeningRate), '-f', 'f32le'],
    fileInput(run.heardFile(tap, region.place)),
  ]);
  const wholeOutput = whole.flatMap((pad, i) => [
    '-map',
    pad,
    `-c:a:${i}`,
    run.sampleEncoders[i] ?? 'pcm_s32le',
  ]);
  return [
    ...[
      ...quietOptions,
      '-y',
      '-nostats',
      '-loglevel',
      'repeat+level+info',
      '-progress',
      'pipe:1',
      '-stats_period',
      '5',
    ],
    ...(run.strict ? ['-xerror'] : []),
    ...['-copyts', ...guardOptions(run.demuxer), '-i', fileInput(run.local)],
    ...(graph === '' ? [] : ['-filter_complex', graph]),
    ...pictureOutput(run.picture),
    ...(whole.length === 0 ? [] : [...wholeOutput, '-f', 'streamhash', '-hash', 'md5', 'pipe:1']),
    ...heardOutputs,
  ];
}

function pictureOutput(picture: DecodeRun['picture']): string[] {
  if (picture === null) return [];
  const all = ['-map', '0:v:0', '-fps_mode', 'passthrough'];
  return picture.hashed
    ? [...all, '-f', 'framehash', '-hash', 'murmur3', 'pipe:1', ...picture.spots]
    : [...all, '-f', 'null', '-', ...picture.spots];
}

/** The hash in a line of the `framehash` muxer, `0, 0, 0, 1, 86400, 8f2c…`; null for another line. */
export function parsePictureHash(line: string): string | null {
  return /^0, *-?\d+, *-?\d+, *\d+, *\d+, *([0-9a-f]+)$/.exec(line)?.[1] ?? null;
}

/** The number of pictures in a line of ffmpeg's progress; null for another line. */
export function parseProgressFrame(line: string): number | null {
  const match = /^frame=\s*(\d+)$/.exec(line);
  return match ? Number(match[1]) : null;
}
