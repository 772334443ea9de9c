// Figures of repeated measurements.

/** Of an even number of values the mean of the middle two. */
export function median(values: readonly number[]): number {
  if (values.length === 0) throw new Error('nothing was measured');
  const sorted = values.toSorted((a, b) => a - b);
  const middle = Math.floor(sorted.length / 2);
  const [low, high] = [sorted[(sorted.length - 1) >> 1] ?? Number.NaN, sorted[middle] ?? Number.NaN];
  return (low + high) / 2;
}

export function round(value: number, digits = 3): number {
  return Number(value.toFixed(digits));
}
