import { expect, test } from 'vitest';
import { median } from '../../bench/parts/figures.ts';

test.each([
  [[3], 3],
  [[9, 1, 5], 5],
  [[4, 1, 3, 2], 2.5],
])('the median of %j is %d', (values, middle) => {
  expect(median(values)).toBe(middle);
});

test('there is no median of nothing', () => {
  expect(() => median([])).toThrow('nothing was measured');
});
