// What an encoder process says on its standard output: progress, closed grains and border pictures, line by line.

export type SegmentLine =
  /** Pictures that have left the encoder so far. */
  | { readonly type: 'progress'; readonly frames: number }
  /** A grain file is complete. */
  | { readonly type: 'grain'; readonly index: number; readonly file: string }
  /** A border picture of the source: its timestamp in the units of `clock`, and its hash. */
  | { readonly type: 'picture'; readonly timestamp: number; readonly hash: string }
  /** Units of the border pictures' timestamps, seconds. */
  | { readonly type: 'clock'; readonly num: number; readonly den: number };

/** Null for lines that say nothing that we need. */
export function parseSegmentLine(line: string): SegmentLine | null {
  const progress = /^frame=\s*(\d+)/.exec(line);
  if (progress) return { type: 'progress', frames: Number(progress[1]) };
  const grain = /^((\d{6,})\.(?:mov|mp4)),/.exec(line);
  if (grain) return { type: 'grain', index: Number(grain[2]), file: grain[1] ?? '' };
  const picture = /^0,\s*-?\d+,\s*(-?\d+),\s*\d+,\s*\d+,\s*([0-9a-f]{32})$/.exec(line);
  if (picture) return { type: 'picture', timestamp: Number(picture[1]), hash: picture[2] ?? '' };
  const clock = /^#tb 0: (\d+)\/(\d+)/.exec(line);
  return clock ? { type: 'clock', num: Number(clock[1]), den: Number(clock[2]) } : null;
}

/** Lines of ffmpeg's error output that tell of pictures that did not decode as they should. */
export function isDamageLine(line: string): boolean {
  return /error while decoding|Error while decoding stream|corrupt decoded frame|Invalid data found when processing|concealing \d+|decode_slice_header error|damaged|CRC mismatch|Invalid NAL unit size|missing picture in access unit|no frame!/i.test(
    line,
  );
}
