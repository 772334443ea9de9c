// Boxes of an ISO base media file (ISO/IEC 14496-12): just enough to see what a picture track says of itself.

/** `[start, end)` in the file or buffer; the body begins after the header. */
export type Box = {
  readonly type: string;
  readonly start: number;
  readonly bodyStart: number;
  readonly end: number;
};

/** Reads one box header at `start`. Null when there is none before `limit`, or it makes no sense. `view` begins at file offset 0. */
export function boxAt(view: DataView, start: number, limit: number): Box | null {
  if (start + 8 > limit) return null;
  const short = view.getUint32(start);
  const type = fourLetters(view, start + 4);
  const long = short === 1;
  if (long && start + 16 > limit) return null;
  const size = long ? Number(view.getBigUint64(start + 8)) : short === 0 ? limit - start : short;
  const bodyStart = start + (long ? 16 : 8);
  return size < bodyStart - start || start + size > limit
    ? null
    : { type, start, bodyStart, end: start + size };
}

/** Boxes directly inside `[start, end)`, in order, up to the first that makes no sense. */
export function boxesIn(view: DataView, start: number, end: number): Box[] {
  const boxes: Box[] = [];
  for (let box = boxAt(view, start, end); box !== null; box = boxAt(view, box.end, end)) boxes.push(box);
  return boxes;
}

/** The first box at `path` below `box`, one type a level; null when there is none. */
export function boxInside(
  view: DataView,
  box: Pick<Box, 'bodyStart' | 'end'>,
  path: readonly string[],
): Box | null {
  const [type, ...rest] = path;
  const next = boxesIn(view, box.bodyStart, box.end).find((one) => one.type === type);
  if (next === undefined) return null;
  return rest.length === 0 ? next : boxInside(view, next, rest);
}

export function fourLetters(view: DataView, at: number): string {
  return String.fromCharCode(...[0, 1, 2, 3].map((i) => view.getUint8(at + i)));
}
