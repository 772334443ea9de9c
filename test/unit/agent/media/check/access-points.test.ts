// Random access points: where planned and nowhere else.
import { describe, expect, it } from 'vitest';
import { rational } from '#shared/rational.ts';
import { type AccessPlan, watchAccessPoints } from '../../../../../agent/media/check/access-points.ts';

const plan: AccessPlan = {
  rate: rational(25),
  frames: 25,
  gopFrames: 5,
  timeBase: rational(1, 12800),
  start: rational(0),
  allIntra: false,
  grains: [
    { first: 0, end: 10 },
    { first: 10, end: 20 },
    { first: 20, end: 25 },
  ],
};

function points(keys: readonly number[], changed: Partial<AccessPlan> = {}) {
  const watch = watchAccessPoints({ ...plan, ...changed });
  for (let k = 0; k < plan.frames; k += 1) {
    watch.add({ pts: k * 512, dts: k * 512, bytes: 1, keyframe: keys.includes(k), presented: true });
  }
  return watch.result();
}

describe('random access points', () => {
  it('stand at the start of every grain and every group of pictures in it', () => {
    expect(points([0, 5, 10, 15, 20])).toEqual({ missing: [], extra: [], found: 5 });
  });

  it('are missed at the border of a grain', () => {
    expect(points([0, 5, 15, 20])).toMatchObject({ missing: [10], extra: [] });
  });

  it('are noticed where nobody planned one, such as at a change of scene', () => {
    expect(points([0, 5, 7, 10, 15, 20])).toMatchObject({ missing: [], extra: [7] });
  });

  it('are every picture of an intra codec', () => {
    expect(points([0, 1, 2], { allIntra: true }).missing).toHaveLength(22);
  });
});
