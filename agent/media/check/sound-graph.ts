// Filter text that decodes sound tracks once and takes every measure of them: samples, loudness, a hash of all samples,
// and what there is to hear at head, middle and tail on the clock of the picture.
import { listeningRate, type Region } from './sound-places.ts';

export type SoundTap = {
  /** The track as ffmpeg's filters name it: `0:1`, `0:a:0`. */
  readonly input: string;
  readonly channels: number;
  /** Fill breaks in the timestamps with silence, as the deliverable has it. */
  readonly fillGaps: boolean;
  /** Where listening begins, seconds from the first picture: sound before isn't presented. Null takes everything. */
  readonly fromSeconds: number | null;
  readonly regions: readonly Region[];
};

export type SoundGraph = {
  /** Joined with `;` and other graphs. */
  readonly graph: string;
  /** Pads of the whole sound, one a track, in order. */
  readonly whole: readonly string[];
  /** Pads of the regions, in the order of `regions`, track after track. */
  readonly heard: readonly { readonly pad: string; readonly tap: number; readonly region: Region }[];
};

/** `pictureStart`: where the first presented picture stands on the file's own clock, decimal seconds. */
export function soundGraph(taps: readonly SoundTap[], pictureStart: string): SoundGraph {
  const heard = taps.flatMap((tap, i) =>
    tap.regions.map((region, j) => ({ pad: `[h${i}_${j}]`, tap: i, region })),
  );
  return {
    graph: taps.flatMap((tap, i) => trackGraph(tap, i, pictureStart)).join(';'),
    whole: taps.map((_, i) => `[w${i}]`),
    heard,
  };
}

/** Silence for breaks in the timestamps from 10 ms on; samples are never stretched. */
const fillBreaks = 'async=1:min_hard_comp=0.01';

function trackGraph(tap: SoundTap, i: number, pictureStart: string): string[] {
  const start = [
    `asetpts=PTS-(${pictureStart})/TB`,
    ...(tap.fillGaps ? [`aresample=${fillBreaks}`] : []),
    ...(tap.fromSeconds === null ? [] : [`atrim=start=${tap.fromSeconds.toFixed(6)}`]),
  ];
  const loudness = [
    `ebur128@s${i}=metadata=1:framelog=verbose`,
    `ametadata@s${i}=mode=print:key=lavfi.r128.I`,
    'anullsink',
  ];
  return [
    `[${tap.input}]${start.join(',')},astats@s${i}=measure_perchannel=none:measure_overall=Number_of_samples,asplit=3[w${i}][l${i}][c${i}]`,
    `[l${i}]${loudness.join(',')}`,
    ...listeningGraph(tap, i),
  ];
}

/** One channel on the picture's clock: what comes too early is cut, breaks and the time before are silent. */
function listeningGraph({ channels, regions }: SoundTap, i: number): string[] {
  if (regions.length === 0) return [`[c${i}]anullsink`];
  const onClock = `aformat=sample_fmts=flt,${oneChannel(channels)},aresample=${listeningRate}:${fillBreaks}:first_pts=0`;
  const pads = regions.map((_, j) => `[r${i}_${j}]`).join('');
  return [
    `[c${i}]${onClock},asplit=${regions.length}${pads}`,
    ...regions.map(
      ({ first, end }, j) => `[r${i}_${j}]atrim=start_sample=${first}:end_sample=${end}[h${i}_${j}]`,
    ),
  ];
}

/** All channels in unlike shares, so that channels of opposite phase don't cancel. */
function oneChannel(channels: number): string {
  const shares = Array.from(
    { length: channels },
    (_, i) => `${(1 / channels / (1 + i / channels)).toFixed(4)}*c${i}`,
  );
  return `pan=mono|c0=${shares.join('+')}`;
}
