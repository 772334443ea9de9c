import { describe, expect, test } from 'vitest';
import { drawFilms, drawStrip, formatSeconds } from '../../../../deploy/demo/draw-films.ts';
import type { Attempt, FilmProgress } from '../../../../deploy/demo/film-progress.ts';
import { machines } from '../../../../deploy/demo/scenario.ts';

const lease = (number: number, machine: string, range: { first: number; end: number }): Attempt => ({
  number,
  machine,
  range,
  kind: 'encode',
  frames: 0,
  framesPerSecond: 24.6,
  open: true,
});

/** Forty frames in grains of ten: the first stored, the next two leased by two machines, the last nobody's. */
const film: FilmProgress = {
  jobId: 'j1',
  format: 'edit-proxy',
  step: 'encoding',
  frames: 40,
  grainFrames: 10,
  attempts: [lease(1, 'grading-room', { first: 0, end: 20 }), lease(2, 'old-laptop', { first: 20, end: 30 })],
  stored: new Map([[0, 1]]),
  receivedAt: '2026-01-01T00:00:00.000Z',
  changedAt: '2026-01-01T00:00:00.000Z',
  reason: null,
};

describe('the picture of the work', () => {
  test.each([
    [4, 'Ggl·'],
    [8, 'GGggll··'],
    [40, `${'G'.repeat(10)}${'g'.repeat(10)}${'l'.repeat(10)}${'·'.repeat(10)}`],
  ])('of %i letters shows who has which frames', (width, strip) => {
    expect(drawStrip(film, machines, width)).toBe(strip);
  });

  test('has no strip for a film that nobody has looked at', () => {
    expect(drawStrip({ ...film, frames: null }, machines, 10)).toBe('');
  });

  test('tells what every machine does and keeps within the columns', () => {
    const drawing = { title: 'A film', films: [film], machines, elapsedSeconds: 65 };
    const lines = drawFilms({ ...drawing, columns: 100 });
    expect(lines[0]).toBe('  A film, 1 min 05 s');
    expect(lines).toContain('  G grading-room   edit-proxy 0–19 at 25 frames/s');
    expect(lines).toContain('  C cutting-room   one encoder');
    expect(drawFilms({ ...drawing, columns: 20 }).every((line) => line.length <= 20)).toBe(true);
  });

  test.each([
    [0, '0 s'],
    [59.4, '59 s'],
    [59.6, '1 min 00 s'],
    [125, '2 min 05 s'],
  ])('writes %d seconds as %s', (seconds, text) => {
    expect(formatSeconds(seconds)).toBe(text);
  });
});
