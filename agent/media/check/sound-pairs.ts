// Brings what the plan promises of each sound track together with what was measured on both sides.
import type { SoundTrack } from '#shared/facts.ts';
import type { Wrapper } from '#shared/house-format.ts';
import type { SoundWay } from '#shared/plan.ts';
import { frameSamples } from '../planned-sound.ts';
import { namesChannels } from '../wrapper-carries.ts';
import type { SoundMeasure } from './sound-measures.ts';
import type { TrackPair, TrackSide } from './sound-tracks.ts';

/** Codecs that give back every sample as it was; the others' decoders may differ in the last bit between processors. */
const losslessSource = /^(pcm_(?!alaw|mulaw|vidc)\w+|flac|alac|wavpack|truehd|mlp|tta|ape)$/;

/** True where the deliverable must hold the very samples of the source. */
export function keepsSamples(way: SoundWay, track: SoundTrack): boolean {
  if (way.fillGaps || !losslessSource.test(track.codec)) return false;
  const float = /^(flt|dbl)p?$/.test(track.sampleFormat);
  if (float) return way.encoder === (track.sampleFormat.startsWith('dbl') ? 'pcm_f64le' : 'pcm_f32le');
  const bits = track.sampleFormat.startsWith('u8') ? 8 : track.significantBits;
  return bits <= encoderBits(way.encoder);
}

/** The encoder that keeps every sample that `keepsSamples` promises, for a hash over them. */
export function sampleEncoder(track: SoundTrack): string {
  if (track.sampleFormat.startsWith('dbl')) return 'pcm_f64le';
  return track.sampleFormat.startsWith('flt') ? 'pcm_f32le' : 'pcm_s32le';
}

export function soundSide(
  track: Pick<TrackSide, 'sampleRate' | 'channels' | 'layout'>,
  measure: SoundMeasure | undefined,
): TrackSide {
  const { sampleRate, channels, layout } = track;
  return {
    sampleRate,
    channels,
    layout,
    samples: measure?.samples ?? 0,
    loudness: measure?.loudness ?? null,
    hash: measure?.hash ?? null,
  };
}

export function soundPair(pair: {
  number: number;
  wrapper: Wrapper;
  way: SoundWay;
  track: SoundTrack;
  source: TrackSide;
  deliverable: TrackSide;
}): TrackPair {
  const { number, wrapper, way, track, source, deliverable } = pair;
  return {
    track: number,
    source,
    deliverable,
    frameSamples: frameSamples(way.encoder),
    exact: keepsSamples(way, track),
    namesChannels: namesChannels(wrapper, way.encoder),
    lossy: encoderBits(way.encoder) === 0,
  };
}

/** Bits of a sample that the encoder keeps; 0 for lossy ones. */
function encoderBits(encoder: string): number {
  if (encoder === 'flac' || encoder.startsWith('pcm_s24')) return 24;
  const bits = /^pcm_[suf](\d+)/.exec(encoder)?.[1];
  return bits === undefined ? 0 : Number(bits);
}
