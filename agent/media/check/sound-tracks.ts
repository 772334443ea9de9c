// The checks `sound-length`, `sound-layout` and `loudness` (N4): nothing of the sound lost, added, folded or levelled.
import type { CheckName, CheckResult } from '#shared/check.ts';
import { sayTracks } from './say-tracks.ts';
import { counted, listed, verdict } from './verdict.ts';

/** One sound track, in the source as it should be presented and in the deliverable as it is. */
export type TrackPair = {
  /** Number of the track in the deliverable, from 1. */
  readonly track: number;
  readonly source: TrackSide;
  readonly deliverable: TrackSide;
  /** Samples of one frame of the deliverable's codec; 1 where any number of samples can be written. */
  readonly frameSamples: number;
  /** The samples must be the source's, bit for bit. */
  readonly exact: boolean;
  /** Wrapper and codec can say which channel is which. */
  readonly namesChannels: boolean;
  /** The deliverable's codec changes the sound. */
  readonly lossy: boolean;
};

export type TrackSide = {
  readonly sampleRate: number;
  readonly channels: number;
  readonly layout: string | null;
  /** Decoded samples per channel. */
  readonly samples: number;
  /** LUFS; null where nothing passed the gates. */
  readonly loudness: number | null;
  /** Hash of the decoded samples; null where none was made. */
  readonly hash: string | null;
};

/** The tracks of a deliverable beside those that the plan promised. */
export type SoundPairs = { readonly pairs: readonly TrackPair[]; readonly tracksDue: number };

export function checkSoundLength(sound: SoundPairs): CheckResult {
  const limit = 'as long as the source to one sound frame, and the same samples where the codec is lossless';
  return soundVerdict('sound-length', limit, { ...sound, judge: judgeLength });
}

export function checkSoundLayout(sound: SoundPairs): CheckResult {
  const limit = `${counted(sound.tracksDue, 'track')}, channels, layout and sample rate as in the source`;
  return soundVerdict('sound-layout', limit, { ...sound, judge: judgeLayout });
}

export function checkLoudness(sound: SoundPairs): CheckResult {
  return soundVerdict(
    'loudness',
    'integrated loudness within 0.1 LU of the source (EBU R 128), 0.5 LU for a lossy codec',
    {
      ...sound,
      judge: judgeLoudness,
    },
  );
}

type Judged = { readonly ok: boolean; readonly text: string };

function soundVerdict(
  name: CheckName,
  limit: string,
  { pairs, tracksDue, judge }: SoundPairs & { judge: (pair: TrackPair) => Judged },
): CheckResult {
  if (tracksDue === 0 && pairs.length === 0)
    return verdict({ name, ok: true, measured: 'no sound track', limit });
  const judged = pairs.map((pair) => ({ ...judge(pair), track: pair.track }));
  const count =
    pairs.length === tracksDue ? [] : [`${counted(pairs.length, 'track')} where ${tracksDue} are due`];
  return verdict({
    name,
    ok: count.length === 0 && judged.every((one) => one.ok),
    measured: listed([...count, ...sayTracks(judged)], '', 16),
    limit,
  });
}

function judgeLength({ source, deliverable, frameSamples, exact }: TrackPair): Judged {
  const due = (source.samples * deliverable.sampleRate) / source.sampleRate;
  const off = Math.round(deliverable.samples - due);
  if (exact && off === 0 && source.hash !== deliverable.hash) {
    return { ok: false, text: `${counted(deliverable.samples, 'sample')}, but not the source's` };
  }
  const same = exact && off === 0 ? ", the source's bit for bit" : '';
  const ok = Math.abs(off) <= (exact ? 0 : frameSamples);
  return { ok, text: `${counted(deliverable.samples, 'sample')}, ${off > 0 ? '+' : ''}${off}${same}` };
}

function judgeLayout({ source, deliverable, namesChannels }: TrackPair): Judged {
  // A source that names no layout leaves the choice to the wrapper.
  const silent = source.layout === null || (deliverable.layout === null && !namesChannels);
  const layout = silent || plainLayout(source.layout) === plainLayout(deliverable.layout);
  const ok =
    layout && source.channels === deliverable.channels && source.sampleRate === deliverable.sampleRate;
  return {
    ok,
    text: ok ? sayLayout(deliverable) : `${sayLayout(deliverable)} where the source has ${sayLayout(source)}`,
  };
}

/** Surround channels are called back or side by codec, not by intent. */
function plainLayout(layout: string | null): string | null {
  return layout?.replace(/\((side|back)\)$/, '') ?? null;
}

function sayLayout({ channels, layout, sampleRate }: TrackSide): string {
  return `${counted(channels, 'channel')} (${layout ?? 'no layout'}) at ${sampleRate} Hz`;
}

/** LU. A lossy codec thins out noise such as rain and applause; what it loses of the sound itself is its own affair. */
const fineLoudness = 0.1;
const mostLossyLoudness = 0.5;
/** ffmpeg prints three decimals; half of the last one is its rounding, not ours to fail on. */
const printed = 0.0005;

function judgeLoudness({ source, deliverable, lossy }: TrackPair): Judged {
  if (source.loudness === null && deliverable.loudness === null)
    return { ok: true, text: 'too quiet or too short to measure' };
  if (source.loudness === null || deliverable.loudness === null) {
    return {
      ok: false,
      text: `${sayLoudness(deliverable.loudness)} where the source has ${sayLoudness(source.loudness)}`,
    };
  }
  const off = deliverable.loudness - source.loudness;
  const fine = Math.abs(off) <= fineLoudness + printed;
  const note = fine || !lossy ? '' : ' (more than 0.1 LU, within what a lossy codec does to noise)';
  const ok = fine || (lossy && Math.abs(off) <= mostLossyLoudness + printed);
  return {
    ok,
    text: `${sayLoudness(deliverable.loudness)}, ${off > 0 ? '+' : ''}${off.toFixed(2)} LU${ok ? note : ''}`,
  };
}

function sayLoudness(lufs: number | null): string {
  return lufs === null ? 'nothing measurable' : `${lufs.toFixed(1)} LUFS`;
}
