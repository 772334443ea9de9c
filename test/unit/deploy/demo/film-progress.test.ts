import { describe, expect, test } from 'vitest';
import {
  applyChange,
  applySpeed,
  type Change,
  type FilmProgress,
  type Films,
  isAtRest,
  shareDone,
} from '../../../../deploy/demo/film-progress.ts';

/** Twenty frames in grains of eight: 8, 8 and 4. */
const planned: [string, Change['detail']] = ['planned', { frames: 20, grainFrames: 8 }];
const received: [string, Change['detail']] = [
  'received',
  { source: 'rushes:a.mov', format: 'edit-proxy', deliverable: 'share:a.mov' },
];
const opened = (attempt: number, kind: string, range?: [number, number]): [string, Change['detail']] => [
  'opened',
  {
    attempt,
    kind,
    machine: `machine-${attempt}`,
    lane: null,
    first: range?.[0] ?? null,
    end: range?.[1] ?? null,
  },
];
const grain = (attempt: number, index: number): [string, Change['detail']] => [
  'grain',
  { attempt, grain: index, frames: 8, bytes: 1 },
];

describe('the progress of a film', () => {
  test('follows the steps of a job to its delivery', () => {
    const story: [string, Change['detail']][] = [
      received,
      opened(1, 'inspect'),
      ['ended', { attempt: 1, ok: true, kind: 'inspect' }],
      planned,
      opened(2, 'encode', [0, 20]),
      ...[0, 1, 2].map((index) => grain(2, index)),
      ['ended', { attempt: 2, ok: true, kind: 'encode' }],
      opened(3, 'join'),
      opened(4, 'check'),
      opened(5, 'deliver'),
      ['ended', { attempt: 5, ok: true, kind: 'deliver' }],
    ];
    const steps = story.map((_, length) => tell(story.slice(0, length + 1)).step);
    expect([...new Set(steps)]).toEqual([
      'received',
      'inspected',
      'encoding',
      'joining',
      'checking',
      'delivered',
    ]);
    expect(isAtRest(tell(story))).toBe(true);
    expect(isAtRest(tell(story.slice(0, -1)))).toBe(false);
  });

  test('counts stored grains, the shorter last one, and what open leases have beyond theirs', () => {
    const story = [
      received,
      planned,
      opened(1, 'encode', [0, 16]),
      opened(2, 'encode', [16, 20]),
      grain(1, 0),
    ];
    expect(shareDone(tell(story))).toBeCloseTo(8 / 20);
    const films = applySpeed(tellAll(story), { jobId: 'j1', attempt: 1, frames: 12, framesPerSecond: 25 });
    expect(shareDone(only(films))).toBeCloseTo(12 / 20);
    expect(shareDone(tell([...story, grain(1, 1), grain(2, 2)]))).toBe(1);
  });

  test('gives back what a lost machine had not stored, and all that is made again', () => {
    const story = [received, planned, opened(1, 'encode', [0, 20]), grain(1, 0)];
    const films = applySpeed(tellAll(story), { jobId: 'j1', attempt: 1, frames: 15, framesPerSecond: 25 });
    expect(shareDone(only(apply(films, [['lost', { attempt: 1, reason: 'silent' }]])))).toBeCloseTo(8 / 20);
    const remade: [string, Change['detail']] = [
      'remade',
      { grains: null, fallback: 'whole', reason: 'seams' },
    ];
    expect(tell([...story, remade])).toMatchObject({ step: 'encoding', reason: 'seams', stored: new Map() });
  });

  test('moves the end of a lease down', () => {
    const film = tell([
      received,
      planned,
      opened(1, 'encode', [0, 20]),
      ['lease-moved', { attempt: 1, end: 8 }],
    ]);
    expect(film.attempts[0]?.range).toEqual({ first: 0, end: 8 });
  });

  test('takes no notice of jobs that it has not seen received', () => {
    expect(tellAll([planned]).size).toBe(0);
  });
});

function tell(story: readonly [string, Change['detail']][]): FilmProgress {
  return only(tellAll(story));
}

function tellAll(story: readonly [string, Change['detail']][]): Films {
  return apply(new Map(), story);
}

function apply(films: Films, story: readonly [string, Change['detail']][]): Films {
  return story.reduce(
    (before, [type, detail], seq) =>
      applyChange(before, { jobId: 'j1', at: new Date(seq).toISOString(), type, detail }),
    films,
  );
}

function only(films: Films): FilmProgress {
  const film = films.get('j1');
  if (!film) throw new Error('there is no such film');
  return film;
}
