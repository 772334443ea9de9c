// The checks of length, layout and loudness, on measured values.
import { describe, expect, it } from 'vitest';
import {
  checkLoudness,
  checkSoundLayout,
  checkSoundLength,
  type TrackPair,
  type TrackSide,
} from '../../../../../agent/media/check/sound-tracks.ts';

const source: TrackSide = {
  sampleRate: 48_000,
  channels: 2,
  layout: 'stereo',
  samples: 480_000,
  loudness: -23,
  hash: 'aa',
};

/** A track of a lossless deliverable; `change` alters the deliverable's side. */
function pair(change: Partial<TrackSide> = {}, kind: Partial<TrackPair> = {}): TrackPair {
  const deliverable = { ...source, ...change };
  return {
    track: 1,
    source,
    deliverable,
    frameSamples: 1,
    exact: true,
    lossy: false,
    namesChannels: true,
    ...kind,
  };
}

const aac = { frameSamples: 1024, exact: false, lossy: true };
const one = (track: TrackPair) => ({ pairs: [track], tracksDue: 1 });

describe('length', () => {
  it('is exact for lossless sound, and so are the samples', () => {
    expect(checkSoundLength(one(pair()))).toMatchObject({
      ok: true,
      measured: "track 1: 480000 samples, 0, the source's bit for bit",
    });
    expect(checkSoundLength(one(pair({ samples: 479_999 }))).ok).toBe(false);
    expect(checkSoundLength(one(pair({ hash: 'ab' })))).toMatchObject({
      ok: false,
      measured: "track 1: 480000 samples, but not the source's",
    });
  });

  it('may be up to one frame of a lossy codec longer', () => {
    expect(checkSoundLength(one(pair({ samples: 481_024 }, aac))).ok).toBe(true);
    expect(checkSoundLength(one(pair({ samples: 481_025 }, aac))).ok).toBe(false);
  });

  it('fails for AAC that was encoded in pieces', () => {
    // As measured: three pieces joined are 85 ms longer than one.
    expect(checkSoundLength(one(pair({ samples: 484_096 }, aac)))).toMatchObject({
      ok: false,
      measured: 'track 1: 484096 samples, +4096',
    });
  });
});

describe('layout', () => {
  it('fails when tracks were folded into one', () => {
    const folded = { pairs: [pair()], tracksDue: 3 };
    expect(checkSoundLayout(folded)).toMatchObject({
      ok: false,
      measured: expect.stringContaining('1 track where 3 are due'),
    });
  });

  it.each([
    ['channels', { channels: 1, layout: 'mono' }],
    ['layout', { layout: 'downmix' }],
    ['sample rate', { sampleRate: 44_100 }],
    ['layout that the wrapper could have told', { layout: null }],
  ])('fails for other %s', (_, change) => {
    expect(checkSoundLayout(one(pair(change))).ok).toBe(false);
  });

  it('passes what the wrapper cannot tell, and surround channels under their other name', () => {
    expect(checkSoundLayout(one(pair({ layout: null }, { namesChannels: false }))).ok).toBe(true);
    const side = { ...source, channels: 6, layout: '5.1(side)' };
    expect(checkSoundLayout(one(pair({ channels: 6, layout: '5.1' }, { source: side }))).ok).toBe(true);
  });

  it('says once what is alike', () => {
    const tracks = [1, 2, 3, 4].map((track) => ({ ...pair(), track }));
    expect(checkSoundLayout({ pairs: tracks, tracksDue: 4 }).measured).toBe(
      'tracks 1–4: 2 channels (stereo) at 48000 Hz',
    );
  });
});

describe('loudness', () => {
  // EBU R 128; the house allows a tenth of a unit.
  it.each([
    [-23.1, true],
    [-23.11, false],
    [-22.9, true],
    [-22, false],
  ])('of %f LUFS beside −23 passes: %s', (loudness, ok) => {
    expect(checkLoudness(one(pair({ loudness }))).ok).toBe(ok);
  });

  it('may lose up to half a unit to a lossy codec, told', () => {
    expect(checkLoudness(one(pair({ loudness: -23.4 }, aac)))).toMatchObject({
      ok: true,
      measured: expect.stringContaining('more than 0.1 LU'),
    });
    expect(checkLoudness(one(pair({ loudness: -23.6 }, aac))).ok).toBe(false);
  });

  it('is not measured in silence, but silence where there was sound fails', () => {
    const silent = { ...source, loudness: null };
    expect(checkLoudness(one(pair({ loudness: null }, { source: silent }))).ok).toBe(true);
    expect(checkLoudness(one(pair({ loudness: null }))).ok).toBe(false);
  });
});

describe('without sound', () => {
  it('all three say so', () => {
    const none = { pairs: [], tracksDue: 0 };
    for (const check of [checkSoundLength, checkSoundLayout, checkLoudness]) {
      expect(check(none)).toMatchObject({ ok: true, measured: 'no sound track' });
    }
  });
});
