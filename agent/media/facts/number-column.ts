// A growing column of numbers, 8 bytes each: lists of a million timestamps stay small.

export type NumberColumn = {
  push(value: number): void;
  /** The numbers so far; valid until the next push. */
  values(): Float64Array;
};

export function createNumberColumn(): NumberColumn {
  let cells = new Float64Array(1024);
  let used = 0;
  return {
    push(value) {
      if (used === cells.length) {
        const larger = new Float64Array(used * 2);
        larger.set(cells);
        cells = larger;
      }
      cells[used] = value;
      used += 1;
    },
    values: () => cells.subarray(0, used),
  };
}
