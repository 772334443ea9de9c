import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { placeSegments } from '../../../../coordinator/place/place-segments.ts';
import type { EncodePlace, EncodeWork } from '../../../../coordinator/place/place-types.ts';

function place(agentId: string, megapixels: number, changes: Partial<EncodePlace> = {}): EncodePlace {
  const lane = {
    laneId: 'libx265',
    codec: 'h265',
    stitchClass: 'x265',
    megapixelsPerSecond: { 'review-copy@1': megapixels },
  };
  return { agentId, free: true, lanes: [lane], ...changes };
}

function work(jobId: string, frames: number, changes: Partial<EncodeWork> = {}): EncodeWork {
  return {
    ...{ jobId, priority: 0, receivedMs: 0, codec: 'h265', formatKey: 'review-copy@1', pixels: 1e6 },
    ...{ runs: [{ first: 0, end: frames }], grainFrames: 100, stitchClass: null, whole: false },
    ...{ reachableBy: new Set(['a', 'b', 'c']), avoid: new Set<string>() },
    ...changes,
  };
}

const lengths = (places: EncodePlace[], jobs: EncodeWork[]) =>
  placeSegments(places, jobs).map(({ range }) => range.end - range.first);

describe('placing segments', () => {
  it('shares a film in proportion to the measured rates', () => {
    const leases = placeSegments([place('a', 40), place('b', 20), place('c', 10)], [work('j1', 7000)]);
    const [a, b, c] = leases.map(({ range }) => range.end - range.first) as [number, number, number];
    expect([a / b, b / c]).toEqual([expect.closeTo(2, 0), expect.closeTo(2, 0)]);
  });

  it('keeps a part back, so that a wrong rate can be made good', () => {
    expect(
      lengths([place('a', 10), place('b', 10)], [work('j1', 10_000)]).reduce((sum, n) => sum + n),
    ).toBeLessThan(8000);
  });

  it('gives the whole film to one lane when it cannot be split', () => {
    const leases = placeSegments([place('a', 10), place('b', 10)], [work('j1', 5000, { whole: true })]);
    expect(leases).toEqual([expect.objectContaining({ range: { first: 0, end: 5000 } })]);
  });

  it('serves the more urgent job first, then the older one', () => {
    const jobs = [
      work('j1', 5000, { receivedMs: 5 }),
      work('j2', 5000, { priority: 1, receivedMs: 9 }),
      work('j3', 5000, { receivedMs: 1 }),
    ];
    expect(placeSegments([place('a', 10)], jobs)[0]?.jobId).toBe('j2');
    expect(
      placeSegments(
        [place('a', 10)],
        jobs.filter((job) => job.jobId !== 'j2'),
      )[0]?.jobId,
    ).toBe('j3');
  });

  it('keeps to one stitch class in a job (N3), the one that is fastest together', () => {
    const other = {
      laneId: 'libx265',
      codec: 'h265',
      stitchClass: 'newer',
      megapixelsPerSecond: { 'review-copy@1': 25 },
    };
    const places = [place('a', 20), place('b', 20), place('c', 0, { lanes: [other] })];
    expect(placeSegments(places, [work('j1', 9000)]).map((lease) => lease.stitchClass)).toEqual([
      'x265',
      'x265',
    ]);
    expect(
      placeSegments(places, [work('j1', 9000, { stitchClass: 'newer' })]).map((lease) => lease.agentId),
    ).toEqual(['c']);
  });

  it('passes over a machine where the job failed, unless it is the last one', () => {
    const failed = work('j1', 5000, { avoid: new Set(['a']) });
    expect(placeSegments([place('a', 10), place('b', 10)], [failed]).map((lease) => lease.agentId)).toEqual([
      'b',
    ]);
    expect(placeSegments([place('a', 10)], [failed]).map((lease) => lease.agentId)).toEqual(['a']);
    // A machine that is busy now can still be waited for.
    expect(placeSegments([place('a', 10), place('b', 10, { free: false })], [failed])).toEqual([]);
  });

  it('leaves alone machines that do not reach the source', () => {
    expect(placeSegments([place('d', 10)], [work('j1', 5000)])).toEqual([]);
  });

  it('leases only free grains, each once, on grain borders, however the farm looks; and always the same way (N10)', () => {
    const places = fc.array(
      fc.tuple(fc.constantFrom('a', 'b', 'c'), fc.integer({ min: 1, max: 300 }), fc.boolean()),
      { maxLength: 8 },
    );
    const runs = fc
      .uniqueArray(fc.integer({ min: 0, max: 60 }), { minLength: 2, maxLength: 12 })
      .map((cuts) => cuts.toSorted((a, b) => a - b))
      .map((cuts) =>
        cuts.flatMap((cut, at) =>
          at % 2 === 1 ? [{ first: (cuts[at - 1] ?? 0) * 100, end: cut * 100 }] : [],
        ),
      );
    fc.assert(
      fc.property(places, runs, runs, (farm, first, second) => {
        const everyone = farm.map(([agentId, rate, free]) => place(agentId, rate, { free }));
        const jobs = [work('j1', 0, { runs: first }), work('j2', 0, { runs: second })];
        const leases = placeSegments(everyone, jobs);
        expect(placeSegments(everyone, jobs)).toEqual(leases);
        expect(leases.length).toBeLessThanOrEqual(everyone.filter(({ free }) => free).length);
        for (const [at, { jobId, range }] of leases.entries()) {
          const own = jobs.find((job) => job.jobId === jobId)?.runs ?? [];
          expect(own.some((run) => run.first <= range.first && range.end <= run.end)).toBe(true);
          expect([range.first % 100, range.end > range.first]).toEqual([0, true]);
          const others = leases.slice(at + 1).filter((lease) => lease.jobId === jobId);
          expect(
            others.every((lease) => lease.range.end <= range.first || range.end <= lease.range.first),
          ).toBe(true);
        }
      }),
    );
  });

  it('finishes any film: leases taken in turn cover every frame', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: 1, max: 300 }), { minLength: 1, maxLength: 6 }),
        fc.integer({ min: 1, max: 40_000 }),
        (rates, frames) => {
          let runs = [{ first: 0, end: frames }];
          let covered = 0;
          for (let turn = 0; runs.length > 0; turn++) {
            expect(turn).toBeLessThan(2000);
            const places = rates.map((rate, at) => place(['a', 'b', 'c'][at % 3] ?? 'a', rate));
            const leases = placeSegments(places, [work('j1', frames, { runs })]);
            covered += leases.reduce((sum, { range }) => sum + range.end - range.first, 0);
            const last = Math.max(...leases.map(({ range }) => range.end));
            runs = last < frames ? [{ first: last, end: frames }] : [];
          }
          expect(covered).toBe(frames);
        },
      ),
    );
  });
});
