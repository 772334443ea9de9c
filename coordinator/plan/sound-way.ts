// What each sound track becomes. Every track is kept, in order, with its own channels and layout; none is cut (N4).
import { assertNever, MillError } from '#shared/errors.ts';
import type { SoundTrack } from '#shared/facts.ts';
import type { SoundSpec } from '#shared/house-format.ts';
import type { SoundWay } from '#shared/plan.ts';

export function soundWay(track: SoundTrack, spec: SoundSpec): SoundWay {
  const { encoder, bitRate } = encoderFor(track, spec);
  return {
    index: track.index,
    encoder,
    bitRate,
    fillGaps: track.gaps,
    startSeconds: track.startSeconds,
    language: track.language,
    title: track.title,
    isDefault: track.isDefault,
  };
}

type SoundEncoder = { readonly encoder: string; readonly bitRate: number | null };

/** FLAC holds 1–8 channels of at most 24 bits as ffmpeg writes it (RFC 9639 allows 32 bits since 2024). */
const flacChannels = 8;

function encoderFor(track: SoundTrack, spec: SoundSpec): SoundEncoder {
  const bits = track.significantBits;
  switch (spec.codec) {
    case 'pcm':
      return { encoder: bits > 0 && bits <= 16 ? 'pcm_s16le' : 'pcm_s24le', bitRate: null };
    case 'flac':
      return { encoder: track.channels <= flacChannels ? 'flac' : 'pcm_s24le', bitRate: null };
    case 'exact':
      return { encoder: exactEncoder(track), bitRate: null };
    case 'aac':
      if (track.channels > 8) {
        throw new MillError(
          'no-lane',
          `AAC carries at most 8 channels and sound track ${track.index} has ${track.channels}; choose another house format`,
        );
      }
      return { encoder: 'aac', bitRate: (spec.bitsPerChannel ?? 96_000) * track.channels };
    default:
      return assertNever(spec.codec);
  }
}

/** Float stays float; whole numbers go to FLAC where it holds them. */
function exactEncoder(track: SoundTrack): string {
  const format = track.sampleFormat.replace(/p$/, '');
  if (format === 'flt') return 'pcm_f32le';
  if (format === 'dbl') return 'pcm_f64le';
  if (format === 'u8') return 'pcm_u8';
  if (track.significantBits > 24) return 'pcm_s32le';
  if (track.channels <= flacChannels) return 'flac';
  return track.significantBits <= 16 ? 'pcm_s16le' : 'pcm_s24le';
}
