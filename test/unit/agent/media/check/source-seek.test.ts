// The check reads its source from further back than the encoders do.
import { describe, expect, it } from 'vitest';
import { rational } from '#shared/rational.ts';
import { checkSeek } from '../../../../../agent/media/check/source-seek.ts';
import { sampleFacts } from '../../../../support/job-builders.ts';

const facts = sampleFacts();
const plan = { rate: rational(25), wholeBecause: null };
const keyframes = Array.from({ length: 20 }, (_, i) => ({ frame: i * 50, ticks: i * 50 * 512 }));
const source = {
  ...facts,
  containerStartSeconds: 0,
  cuts: { ...facts.cuts, verdict: 'keyframes' as const, leadKeyframes: 1 },
  picture: { ...facts.picture, timeBase: rational(1, 12800), startTicks: 0, keyframes },
};

describe('where the check begins to read', () => {
  it('is two keyframes before the one that the inspection found enough', () => {
    // Frame 499 less the lead of 16 lies in the group from 450; one keyframe before is 400, two more are 300.
    expect(checkSeek(source, plan, 499)).toEqual({ seconds: '12.000000', frame: 300 });
  });

  it('is the head near the head, and for sources that can only be read from there', () => {
    expect(checkSeek(source, plan, 120)).toEqual({ seconds: null, frame: 0 });
    expect(checkSeek({ ...source, cuts: { ...source.cuts, verdict: 'head-only' } }, plan, 900)).toEqual({
      seconds: null,
      frame: 0,
    });
    expect(checkSeek(source, { ...plan, wholeBecause: 'damaged' }, 900)).toEqual({ seconds: null, frame: 0 });
  });

  it('is some pictures before, where every picture is a keyframe', () => {
    const intra = {
      ...source,
      cuts: { ...source.cuts, verdict: 'anywhere' as const },
      picture: { ...source.picture, keyframes: [] },
    };
    expect(checkSeek(intra, plan, 116)).toEqual({ seconds: '4.000000', frame: 100 });
  });

  it("counts from the container's own start", () => {
    expect(checkSeek({ ...source, containerStartSeconds: -0.5 }, plan, 499)).toEqual({
      seconds: '12.500000',
      frame: 300,
    });
  });
});
