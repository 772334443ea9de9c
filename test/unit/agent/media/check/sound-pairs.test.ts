// What is demanded of a track: the very samples where nothing changes them, and from where it is listened to.
import { describe, expect, it } from 'vitest';
import type { SoundTrack } from '#shared/facts.ts';
import type { SoundWay } from '#shared/plan.ts';
import { keepsSamples, sampleEncoder } from '../../../../../agent/media/check/sound-pairs.ts';
import { soundTap, startDifference } from '../../../../../agent/media/check/sound-taps.ts';

const track: SoundTrack = {
  index: 1,
  codec: 'pcm_s24le',
  sampleFormat: 's32',
  significantBits: 24,
  sampleRate: 48_000,
  channels: 2,
  layout: 'stereo',
  startSeconds: 0,
  durationSeconds: 10,
  gaps: false,
  language: null,
  title: null,
  isDefault: true,
};

const way: SoundWay = {
  index: 1,
  encoder: 'flac',
  bitRate: null,
  fillGaps: false,
  startSeconds: 0,
  language: null,
  title: null,
  isDefault: true,
};

describe('the very samples are demanded', () => {
  it.each<[string, Partial<SoundTrack>, string, boolean]>([
    ['24 bits in FLAC', {}, 'flac', true],
    ['24 bits in 16', {}, 'pcm_s16le', false],
    ['16 bits in 24', { codec: 'pcm_s16le', sampleFormat: 's16', significantBits: 16 }, 'pcm_s24le', true],
    ['32 bits in FLAC of 24', { codec: 'pcm_s32le', significantBits: 32 }, 'flac', false],
    ['float in float', { codec: 'pcm_f32le', sampleFormat: 'flt', significantBits: 0 }, 'pcm_f32le', true],
    [
      'float in whole numbers',
      { codec: 'pcm_f32le', sampleFormat: 'flt', significantBits: 0 },
      'pcm_s24le',
      false,
    ],
    ['8 bits in 8', { codec: 'pcm_u8', sampleFormat: 'u8', significantBits: 8 }, 'pcm_u8', true],
    ['anything in AAC', {}, 'aac', false],
    // Decoders of lossy sound may differ in the last bit from processor to processor.
    ['decoded AAC', { codec: 'aac', sampleFormat: 'fltp', significantBits: 0 }, 'pcm_f32le', false],
  ])('of %s: %s', (...row) => {
    const [, source, encoder, due] = row;
    expect(keepsSamples({ ...way, encoder }, { ...track, ...source })).toBe(due);
  });

  it('never where breaks are filled', () => {
    expect(keepsSamples({ ...way, fillGaps: true }, track)).toBe(false);
  });

  it('by a hash over samples that hold them', () => {
    expect(sampleEncoder(track)).toBe('pcm_s32le');
    expect(sampleEncoder({ ...track, sampleFormat: 'fltp' })).toBe('pcm_f32le');
    expect(sampleEncoder({ ...track, sampleFormat: 'dblp' })).toBe('pcm_f64le');
  });
});

describe('a track is taken', () => {
  const planned = (startSeconds: number, encoder: string) => ({
    way: { ...way, startSeconds, encoder },
    track,
  });

  it('from the picture on where early sound is hidden, whole in Matroska', () => {
    expect(soundTap(planned(-0.5, 'pcm_s24le'), 'mov').fromSeconds).toBe(0);
    expect(soundTap(planned(-0.5, 'flac'), 'mkv').fromSeconds).toBeNull();
  });

  it('from its first sound on, not from the frame that prepares its decoder', () => {
    expect(soundTap(planned(0.5, 'aac'), 'mp4').fromSeconds).toBe(0.5);
    expect(soundTap(planned(-0.5, 'aac'), 'mp4').fromSeconds).toBe(0);
    expect(soundTap(planned(-0.5, 'aac'), 'mkv').fromSeconds).toBe(-0.5);
  });

  it('at its start time when it is silent, less that frame', () => {
    expect(startDifference(planned(0.5, 'aac'), 'mp4', 0.478667)).toBe(0);
    expect(startDifference(planned(0.5, 'aac'), 'mp4', 0.54)).toBeCloseTo(0.04);
    expect(startDifference(planned(-0.5, 'pcm_s24le'), 'mov', -0.5)).toBe(0);
    expect(startDifference(planned(0, 'flac'), 'mkv', 0.02)).toBeCloseTo(0.02);
  });
});
