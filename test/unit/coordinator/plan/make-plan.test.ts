import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { MediaFacts, PictureFacts } from '#shared/facts.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import { builtInFormats } from '#shared/house-formats.ts';
import { grainCount, grainRange } from '#shared/plan.ts';
import { rational } from '#shared/rational.ts';
import { makePlan } from '../../../../coordinator/plan/make-plan.ts';
import { sampleFacts } from '../../../support/job-builders.ts';

function formatNamed(name: string): HouseFormat {
  const found = builtInFormats.find((format) => format.name === name);
  if (!found) throw new Error(name);
  return found;
}

function facts(picture: Partial<PictureFacts>, changes: Partial<MediaFacts> = {}): MediaFacts {
  const base = sampleFacts(changes);
  return { ...base, picture: { ...base.picture, ...picture } };
}

function planOf(picture: Partial<PictureFacts>, format = 'edit-proxy', changes: Partial<MediaFacts> = {}) {
  return makePlan({
    facts: facts(picture, changes),
    format: formatNamed(format),
    grainSeconds: null,
    damageMet: false,
  });
}

describe('the frame grid', () => {
  it('is the source itself at a constant rate', () => {
    const plan = planOf({ frames: 1439, rate: rational(24_000, 1001) });
    expect(plan).toMatchObject({
      frames: 1439,
      rate: { num: 24_000, den: 1001 },
      picture: { resample: false },
      wholeBecause: null,
    });
  });

  it('covers the whole length of a variable-rate source: 8 s at 30 frames/s are 240 frames', () => {
    const variable = {
      constantRate: false,
      rate: rational(30),
      timeBase: rational(1, 1000),
      startTicks: 500,
      lastTicks: 8450,
      lastDurationTicks: 50,
      frames: 171,
    };
    expect(planOf(variable)).toMatchObject({ frames: 240, picture: { resample: true } });
  });

  it('gives a last picture that ends at once a frame of its own', () => {
    const variable = {
      constantRate: false,
      rate: rational(25),
      timeBase: rational(1, 1000),
      startTicks: 0,
      lastTicks: 4000,
      lastDurationTicks: 1,
    };
    expect(planOf(variable).frames).toBe(101);
  });

  it('is cut into grains without gap or overlap, whole groups of pictures each', () => {
    const anyFilm = fc.record({
      frames: fc.integer({ min: 1, max: 500_000 }),
      rate: fc.constantFrom(
        rational(24_000, 1001),
        rational(25),
        rational(30_000, 1001),
        rational(60_000, 1001),
        rational(2997, 125),
        rational(1_000_000, 66_667),
      ),
    });
    fc.assert(
      fc.property(anyFilm, fc.constantFrom(...builtInFormats), (film, format) => {
        const plan = planOf(film, format.name);
        expect(plan.grainFrames % plan.gopFrames).toBe(0);
        const last = grainRange(plan, grainCount(plan) - 1);
        expect(last.end).toBe(film.frames);
        expect(last.first).toBeLessThan(film.frames);
        for (const index of [0, 1, 2].filter((at) => at + 1 < grainCount(plan))) {
          expect(grainRange(plan, index).end).toBe(grainRange(plan, index + 1).first);
        }
      }),
    );
  });
});

describe('the size of the picture', () => {
  it.each([
    ['UHD is fitted into the class', { width: 3840, height: 2160 }, [1920, 1080]],
    ['small pictures are not enlarged', { width: 320, height: 180 }, [320, 180]],
    ['anamorphic becomes square', { width: 1440, height: 1080, sampleAspect: rational(4, 3) }, [1920, 1080]],
    ['portrait keeps its detail', { width: 3840, height: 2160, rotation: 90 as const }, [1080, 1920]],
    ['scope fits by width', { width: 4096, height: 1716 }, [1920, 804]],
    ['what VC-3 cannot hold is enlarged', { width: 160, height: 90 }, [256, 144]],
  ] as const)('%s', (_, picture, [width, height]) => {
    const { picture: way } = planOf(picture);
    expect([way.width, way.height]).toEqual([width, height]);
    expect(way.sampleAspect).toEqual({ num: 1, den: 1 });
  });

  it('keeps size and sample aspect where the format says source', () => {
    expect(
      planOf({ width: 1440, height: 1080, sampleAspect: rational(4, 3) }, 'storage-copy').picture,
    ).toMatchObject({
      width: 1440,
      height: 1080,
      sampleAspect: { num: 4, den: 3 },
    });
  });

  it('makes odd sizes even for codecs that need it, and says so; FFV1 keeps them', () => {
    const odd = { width: 321, height: 181, pixelFormat: 'yuv420p' };
    expect(planOf(odd, 'storage-copy')).toMatchObject({
      picture: { width: 320, height: 180, scale: true },
      notes: [expect.stringContaining('even')],
    });
    expect(planOf(odd, 'lossless-master').picture).toMatchObject({ width: 321, height: 181, scale: false });
  });

  it('holds the display aspect within 0.5 % for any source', () => {
    const size = fc.integer({ min: 64, max: 8192 });
    const aspects = fc.constantFrom(
      rational(1),
      rational(4, 3),
      rational(64, 45),
      rational(8, 9),
      rational(40, 33),
    );
    fc.assert(
      fc.property(
        fc.record({ width: size, height: size, sampleAspect: aspects }),
        fc.constantFrom('edit-proxy', 'review-copy'),
        (picture, format) => {
          const { width, height, sampleAspect } = picture;
          const { picture: way } = planOf(picture, format);
          const before = (width * sampleAspect.num) / sampleAspect.den / height;
          const after = (way.width * way.sampleAspect.num) / way.sampleAspect.den / way.height;
          expect(Math.abs(after / before - 1)).toBeLessThan(0.0051);
        },
      ),
    );
  });
});

describe('the way of picture and sound', () => {
  it('deinterlaces by the source’s own field order, and keeps fields in a lossless master', () => {
    const interlaced = { fieldOrder: 'top-first' as const, pixelFormat: 'yuv420p' };
    expect(planOf(interlaced).picture).toMatchObject({ deinterlace: 'top-first', fieldOrder: 'progressive' });
    expect(planOf(interlaced, 'lossless-master').picture).toMatchObject({
      deinterlace: null,
      fieldOrder: 'top-first',
    });
  });

  // ITU-T H.273: transfer 16 is SMPTE ST 2084 (PQ), 18 is ARIB STD-B67 (HLG).
  it.each(['smpte2084', 'arib-std-b67'])(
    'maps %s to BT.709 for review and keeps it for storage',
    (transfer) => {
      const colour = {
        primaries: 'bt2020',
        transfer,
        matrix: 'bt2020nc',
        range: 'tv' as const,
        chromaLocation: null,
      };
      expect(planOf({ colour }, 'review-copy').picture).toMatchObject({
        toneMap: true,
        colour: { transfer: 'bt709', primaries: 'bt709' },
      });
      expect(planOf({ colour }, 'storage-copy').picture).toMatchObject({ toneMap: false, colour });
    },
  );

  it('refuses a lossless master of samples that FFV1 does not hold', () => {
    expect(() => planOf({ pixelFormat: 'xyz12le' }, 'lossless-master')).toThrow(
      expect.objectContaining({ code: 'no-lane' }),
    );
  });

  it('keeps every sound track, in order', () => {
    const track = {
      index: 1,
      codec: 'pcm_s24le',
      sampleFormat: 's32',
      significantBits: 24,
      sampleRate: 48_000,
      channels: 1,
      layout: null,
      startSeconds: 0,
      durationSeconds: 10,
      gaps: false,
      language: null,
      title: null,
      isDefault: true,
    };
    const sound = [1, 2, 3].map((index) => ({ ...track, index }));
    expect(planOf({}, 'edit-proxy', { sound }).sound.map((way) => [way.index, way.encoder])).toEqual(
      [1, 2, 3].map((index) => [index, 'pcm_s24le']),
    );
    expect(
      planOf({ pixelFormat: 'yuv420p' }, 'lossless-master', { sound }).sound.map((way) => way.encoder),
    ).toEqual(['flac', 'flac', 'flac']);
  });
});

describe('sources that cannot be split or are damaged', () => {
  it('runs whole and says why when only decoding from the head is right', () => {
    const cuts = {
      verdict: 'head-only' as const,
      leadKeyframes: 0,
      reason: 'it has one keyframe only',
      trials: [],
    };
    expect(planOf({}, 'edit-proxy', { cuts }).wholeBecause).toBe('it has one keyframe only');
  });

  it('refuses damage where the format wants whole sources', () => {
    expect(() => planOf({}, 'edit-proxy', { warnings: ['damaged: 3 pictures'] })).toThrow(
      expect.objectContaining({ code: 'source-damaged' }),
    );
  });

  it('covers damage by time where the format takes what decodes, whole and with a note', () => {
    const plan = planOf({}, 'review-copy', { warnings: ['damaged: 3 pictures'] });
    expect(plan).toMatchObject({
      picture: { tolerant: true, resample: true },
      wholeBecause: expect.any(String),
    });
    expect(plan.notes.join()).toContain('damaged');
  });
});
