// Figures as people read them.
import { expect, test } from 'vitest';
import {
  count,
  formatBytes,
  formatDuration,
  formatMoment,
  formatRate,
} from '../../../../coordinator/cli/figures.ts';

test.each([
  [0, '0 s'],
  [59.4, '59 s'],
  [59.6, '1 min 00 s'],
  [245, '4 min 05 s'],
  [3599.7, '1 h 00 min'],
  [11_220, '3 h 07 min'],
  [-1, '0 s'],
])('%d seconds are %s', (seconds, text) => {
  expect(formatDuration(seconds)).toBe(text);
});

test.each([
  [0, '0 B'],
  [999, '999 B'],
  [1000, '1.0 kB'],
  [1_440_000_000, '1.4 GB'],
  [99_960_000, '100 MB'],
  [999_999, '1.0 MB'],
])('%d bytes are %s', (bytes, text) => {
  expect(formatBytes(bytes)).toBe(text);
});

test('rates, counts and moments', () => {
  expect([formatRate(23.976), formatRate(240)]).toEqual(['24.0 frames/s', '240 frames/s']);
  expect([count(1, 'job'), count(0, 'job'), count(2, 'batch', 'batches')]).toEqual([
    '1 job',
    '0 jobs',
    '2 batches',
  ]);
  expect(formatMoment(new Date(2026, 0, 31, 4, 5).toISOString())).toBe('2026-01-31 04:05');
});
