// The argument list of the join: what decides over time, kind and labels.
import { describe, expect, it } from 'vitest';
import type { SoundTrack } from '#shared/facts.ts';
import type { Wrapper } from '#shared/house-format.ts';
import { rational } from '#shared/rational.ts';
import type { JoinTask } from '#shared/task.ts';
import { joinArgs, movieTimescale, trackTimescale } from '../../../../agent/media/join-args.ts';
import { joinLosses } from '../../../../agent/media/join-losses.ts';
import { pictureStart } from '../../../../agent/media/picture-start.ts';
import { plannedSound } from '../../../../agent/media/planned-sound.ts';
import { sampleFacts, sampleFormat, samplePlan } from '../../../support/job-builders.ts';

const files = {
  script: '/s/grains.ffconcat',
  metadata: '/s/film.ffmetadata',
  sound: ['/s/sound-0.mov'],
  output: '/s/joined',
  headerRoom: null,
};
const hash = { algorithm: 'xxh128', hex: '0'.repeat(32) } as const;
const [way] = samplePlan.sound;

const soundTrack: SoundTrack = {
  ...{
    index: 1,
    codec: 'pcm_s16le',
    sampleFormat: 's16',
    significantBits: 16,
    sampleRate: 48_000,
    channels: 1,
    layout: null,
  },
  ...{ startSeconds: 0, durationSeconds: 10, gaps: false, language: null, title: null, isDefault: true },
};

function task(wrapper: Wrapper, startSeconds: number, change: Partial<JoinTask> = {}): JoinTask {
  return {
    kind: 'join',
    jobId: 'j0123abcd',
    attempt: 5,
    source: { path: 'media:a.mov', bytes: 1, modifiedMs: 0, demuxer: 'mov', containerStartSeconds: 0 },
    facts: sampleFacts({ sound: [soundTrack], reelName: 'A001', tags: { title: 'T', director: 'D' } }),
    format: { ...sampleFormat, wrapper, picture: { ...sampleFormat.picture, codec: 'h265' } },
    plan: {
      ...samplePlan,
      sound: way === undefined ? [] : [{ ...way, startSeconds, language: 'hrv', title: 'Ton' }],
    },
    grains: [],
    sound: [{ file: 'sound-0.mov', bytes: 1, hash, startSeconds }],
    ...change,
  };
}

/** The value that follows an option, the last one if it is given more than once. */
function optionValue(args: readonly string[], option: string): string | undefined {
  const at = args.lastIndexOf(option);
  return at < 0 ? undefined : args[at + 1];
}

describe('clocks', () => {
  it.each([
    [rational(24000, 1001), 24_000, 48_000],
    [rational(25), 12_800, 48_000],
    [rational(30000, 1001), 30_000, 240_000],
    [rational(60000, 1001), 60_000, 240_000],
    [rational(1_000_000, 66_667), 1_000_000, 6_000_000],
  ])('of %o hold every frame, and samples of 48 kHz', (rate, track, movie) => {
    expect(trackTimescale(rate)).toBe(track);
    expect(movieTimescale(rate)).toBe(movie);
    // A frame is a whole number of ticks when the ticks of a second divide by the numerator.
    expect(track % rate.num).toBe(0);
    expect(movie % rate.num).toBe(0);
  });
});

describe('the join', () => {
  it('begins an MP4 with its header: in the room kept for it, or moved there in the end', () => {
    const roomy = joinArgs(task('mp4', 0), { ...files, headerRoom: 50_000 });
    expect(optionValue(roomy, '-moov_size')).toBe('50000');
    expect(optionValue(roomy, '-movflags')).toBe('+write_colr');
    expect(joinArgs(task('mkv', 0), { ...files, headerRoom: 50_000 })).not.toContain('-moov_size');
  });

  it('copies, and keeps parameter sets out of the stream', () => {
    const args = joinArgs(task('mp4', 0), files);
    expect(optionValue(args, '-c')).toBe('copy');
    expect(optionValue(args, '-auto_convert')).toBe('0');
    expect(optionValue(args, '-tag:v')).toBe('hvc1');
    expect(optionValue(args, '-movflags')).toBe('+faststart+write_colr');
  });

  it('opens every input with its own whitelist', () => {
    const args = joinArgs(task('mov', 0), files);
    const inputs = args.filter((arg) => arg === '-i').length;
    expect(args.filter((arg) => arg === '-format_whitelist')).toHaveLength(inputs);
    expect(args.filter((arg) => arg === '-protocol_whitelist')).toHaveLength(inputs);
  });

  it('sets late and early sound off in QuickTime and MP4, the picture staying at 0', () => {
    expect(joinArgs(task('mp4', 0.5), files)).toContain('0.500000');
    const early = joinArgs(task('mov', -0.5), files);
    expect(early.filter((arg) => arg === '-itsoffset')).toHaveLength(1);
    expect(early).toContain('-0.500000');
  });

  it('sets the picture off in Matroska, which cannot hide early sound', () => {
    const early = task('mkv', -0.4996);
    const args = joinArgs(early, files);
    expect(args.slice(args.indexOf('-itsoffset'), args.indexOf('-itsoffset') + 2)).toEqual([
      '-itsoffset',
      '0.500',
    ]);
    expect(args).toContain('0.000400');
  });

  it('restates what a copy would lose', () => {
    const args = joinArgs(task('mov', 0), files);
    expect(optionValue(args, '-timecode')).toBe('01:00:00:00');
    expect(args).toContain('reel_name=A001');
    expect(args).toContain('handler_name=Ton');
    expect(optionValue(args, '-disposition:a:0')).toBe('default');
    expect(joinArgs(task('mkv', 0), files)).toContain('timecode=01:00:00:00');
  });
});

describe('where the picture begins', () => {
  const begins = (rate: ReturnType<typeof rational>, startSeconds: number, encoder = 'flac') => {
    const planned = plannedSound(task('mkv', startSeconds));
    return pictureStart(
      { wrapper: 'mkv', rate },
      planned.map(({ way: one, track }) => ({ way: { ...one, encoder }, track })),
    );
  };

  it('is 0 when no sound is earlier, and always where early sound can be hidden', () => {
    expect(begins(rational(25), 0.3)).toEqual(rational(0));
    expect(pictureStart({ wrapper: 'mov', rate: rational(25) }, plannedSound(task('mov', -0.5)))).toEqual(
      rational(0),
    );
    expect(pictureStart({ wrapper: 'mkv', rate: rational(25) }, [])).toEqual(rational(0));
  });

  it.each([
    [rational(24_000, 1001), -0.5, rational(1, 2)],
    [rational(24_000, 1001), -0.4996, rational(1, 2)],
    [rational(24_000, 1001), -0.0101, rational(11, 1000)],
    // At 25 frames/s a tick of the grains is a frame, 40 ms.
    [rational(25), -0.0101, rational(40, 1000)],
    [rational(24), -0.0101, rational(125, 1000)],
  ])('is the next tick and millisecond after the lead: %o, %f s', (rate, startSeconds, due) => {
    expect(begins(rate, startSeconds)).toEqual(due);
  });

  it('leaves room for the frame that prepares a decoder of AAC', () => {
    expect(begins(rational(24_000, 1001), 0, 'aac')).toEqual(rational(22, 1000));
  });
});

describe('what a wrapper cannot say', () => {
  it('is told', () => {
    expect(joinLosses(task('mov', 0))).toEqual([
      'QuickTime does not carry the tags director',
      'QuickTime has no code for the language hrv of sound track 1',
    ]);
    expect(joinLosses(task('mp4', 0))).toEqual([
      'MP4 does not carry the tags director',
      'MP4 does not carry the reel name A001',
    ]);
    expect(joinLosses(task('mkv', -0.5))).toEqual([
      'Matroska cannot hide what comes before the picture (early sound, or what prepares its decoder), so the picture begins at 0.500 s',
    ]);
  });
});
