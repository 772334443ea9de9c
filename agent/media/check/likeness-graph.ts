// Filter text and log parser for one spot of the check `likeness`: both sides brought to frames of the grid, then
// compared picture by picture.

/** Reads `n:1 Y:0.98 U:0.99 V:0.99 All:0.985 (18.2)`; the similarity over all planes, or null for another line. */
export function parseSsimLine(line: string): number | null {
  const match = /^n:\d+ .*\bAll:(\d(?:\.\d+)?|nan|-nan)\b/.exec(line);
  if (!match) return null;
  const score = Number(match[1]);
  return Number.isFinite(score) ? score : 0;
}
