// The check `likeness`: where to look, and what to make of the scores.
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { checkLikeness, likenessSpots, type SpotScores } from '../../../../../agent/media/check/likeness.ts';
import { parseSsimLine } from '../../../../../agent/media/check/likeness-args.ts';

const limits = { likenessFloor: 0.9, seamDrop: 0.05, lossless: false };

describe('the spots', () => {
  it('are four pictures on each side of a seam, and samples', () => {
    const spots = likenessSpots([500], 1000);
    expect(spots.find((spot) => spot.seam !== null)).toEqual({ first: 496, end: 504, seam: 500 });
    expect(spots.filter((spot) => spot.seam === null).map((spot) => spot.first)).toEqual([
      83, 250, 416, 583, 750, 916,
    ]);
  });

  it('rise, do not overlap, and stay inside the film, whatever the seams', () => {
    const films = fc.integer({ min: 1, max: 3000 }).chain((frames) =>
      fc.record({
        frames: fc.constant(frames),
        seams: fc.uniqueArray(fc.integer({ min: 1, max: Math.max(1, frames - 1) }), { maxLength: 80 }),
      }),
    );
    fc.assert(
      fc.property(films, ({ frames, seams }) => {
        const inside = seams.filter((seam) => seam < frames).toSorted((a, b) => a - b);
        const spots = likenessSpots(inside, frames);
        expect(spots.length).toBeGreaterThan(0);
        expect(spots.filter((spot) => spot.seam !== null)).toHaveLength(Math.min(40, inside.length));
        for (const [i, spot] of spots.entries()) {
          expect(spot.first).toBeGreaterThanOrEqual(spots[i - 1]?.end ?? 0);
          expect(spot.end).toBeGreaterThan(spot.first);
          expect(spot.end).toBeLessThanOrEqual(frames);
        }
      }),
    );
  });

  it('keep the first and the last of very many seams', () => {
    const seams = Array.from({ length: 500 }, (_, i) => (i + 1) * 120);
    const looked = likenessSpots(seams, 60_240).filter((spot) => spot.seam !== null);
    expect(looked).toHaveLength(40);
    expect([looked[0]?.seam, looked.at(-1)?.seam]).toEqual([120, 60_000]);
  });
});

describe('the verdict', () => {
  const seam = (scores: readonly number[]): SpotScores => ({
    spot: { first: 96, end: 104, seam: 100 },
    scores,
  });
  const level = [0.95, 0.95, 0.96, 0.95, 0.94, 0.95, 0.95, 0.96];

  it('passes a seam like its neighbours', () => {
    expect(checkLikeness([seam(level)], limits)).toMatchObject({ ok: true, frames: [] });
  });

  it('passes a change of scene at a seam: each side has its own neighbours', () => {
    expect(checkLikeness([seam([0.99, 0.99, 0.99, 0.99, 0.91, 0.91, 0.92, 0.91])], limits)).toMatchObject({
      ok: true,
    });
  });

  it.each([
    ['below the floor', [...level.slice(0, 7), 0.89], [103]],
    ['worse than its neighbours after the seam', [0.95, 0.95, 0.95, 0.95, 0.92, 0.98, 0.98, 0.98], [100]],
    ['worse than its neighbours before the seam', [0.99, 0.99, 0.99, 0.92, 0.95, 0.95, 0.95, 0.95], [99]],
    ['of pictures that could not be compared', level.slice(0, 6), [96]],
  ])('fails when %s', (_, scores, frames) => {
    expect(checkLikeness([seam(scores)], limits)).toMatchObject({ ok: false, frames });
  });

  it('fails when nothing could be compared', () => {
    expect(checkLikeness([], limits).ok).toBe(false);
  });
});

describe("ffmpeg's scores", () => {
  it('are read from a line', () => {
    expect(parseSsimLine('n:1 Y:0.982345 U:0.991234 V:0.990000 All:0.985210 (18.302)')).toBe(0.98521);
    expect(parseSsimLine('n:1 Y:1.000000 U:1.000000 V:1.000000 All:1.000000 (inf)')).toBe(1);
    expect(parseSsimLine('n:1 R:0.5 G:0.5 B:0.5 All:0.500000 (3.0)')).toBe(0.5);
    expect(parseSsimLine('something else')).toBeNull();
  });
});
