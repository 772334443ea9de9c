// A sound track's facts: what it is, where it stands against the picture, what it is called.
import type { SoundTrack } from '#shared/facts.ts';
import type { ProbeStream } from './probe-report.ts';
import type { SoundSpan } from './sound-packets.ts';
import { tagOf } from './tags.ts';

/** Null for a track that can't be decoded into sound or holds none. `pictureStart` in seconds on the file's clock. */
export function soundFactsOf(
  track: ProbeStream,
  span: SoundSpan | null,
  pictureStart: number,
): SoundTrack | null {
  const { sample_rate: sampleRate, channels, sample_fmt: sampleFormat } = track;
  if (!span || !sampleRate || !channels || sampleFormat === undefined) return null;
  return {
    index: track.index,
    codec: track.codec_name,
    sampleFormat,
    significantBits: significantBits(track),
    sampleRate,
    channels,
    layout: track.channel_layout ?? null,
    startSeconds: microseconds(span.startSeconds - pictureStart),
    durationSeconds: microseconds(span.endSeconds - span.startSeconds),
    gaps: span.breaks > 0,
    language: languageOf(track),
    title: tagOf(track.tags, 'title'),
    isDefault: track.disposition['default'] === 1,
  };
}

/** Bits of a sample that carry sound: 24 in s32. 0 for float and lossy codecs, whose samples have no such number. */
function significantBits(track: ProbeStream): number {
  const format = track.sample_fmt ?? '';
  const integer = /^(u8|s16|s32|s64)p?$/.exec(format);
  const exact =
    /^pcm_(?!alaw|mulaw|vidc)/.test(track.codec_name) ||
    lossless.has(track.codec_name) ||
    isLosslessDts(track);
  if (!integer || !exact) return 0;
  return track.bits_per_raw_sample || track.bits_per_sample || Number(/\d+/.exec(format)?.[0]);
}

const lossless = new Set([
  'flac',
  'alac',
  'wavpack',
  'tta',
  'tak',
  'ape',
  'truehd',
  'mlp',
  's302m',
  'shorten',
  'wmalossless',
  'mp4als',
]);

function isLosslessDts(track: ProbeStream): boolean {
  return track.codec_name === 'dts' && track.profile === 'DTS-HD MA';
}

/** `und` is the wrappers' way of saying nothing. */
function languageOf(track: ProbeStream): string | null {
  const language = tagOf(track.tags, 'language');
  return language === 'und' ? null : language;
}

function microseconds(seconds: number): number {
  return Math.round(seconds * 1e6) / 1e6 || 0;
}
