// How text stands on a screen: how wide it is, cut where it must be, and without letters that would move the cursor.

const graphemes = new Intl.Segmenter(undefined, { granularity: 'grapheme' });
/** Scripts and signs that fill two cells (after Unicode Standard Annex #11, wide and full width). */
const wide =
  /[\u1100-\u115F\u2E80-\u303E\u3041-\uA4CF\uAC00-\uD7A3\uF900-\uFAFF\uFE30-\uFE6F\uFF00-\uFF60\uFFE0-\uFFE6]|\p{Emoji_Presentation}/u;
/** Control characters, and signs that turn the direction of what follows. */
const unprintable = /[\p{Cc}\u2028\u2029\u202A-\u202E\u2066-\u2069]/gu;

/** Control characters of a name as escapes, so that a name can neither break a line nor play with the terminal. */
export function printable(text: string): string {
  return text.replace(unprintable, (letter) => {
    const known = { '\n': String.raw`\n`, '\r': String.raw`\r`, '\t': String.raw`\t` }[letter];
    return known ?? `\\u{${letter.codePointAt(0)?.toString(16).toUpperCase() ?? ''}}`;
  });
}

/** Cells that the text takes on a terminal. */
export function displayWidth(text: string): number {
  let cells = 0;
  for (const { segment } of graphemes.segment(text)) cells += wide.test(segment) ? 2 : 1;
  return cells;
}

/** The text in at most `cells` cells; what is left out of its middle shows as `…`, since names differ at both ends. */
export function shorten(text: string, cells: number): string {
  if (displayWidth(text) <= cells) return text;
  const letters = [...graphemes.segment(text)].map(({ segment }) => segment);
  const tailCells = Math.floor((cells - 1) / 2);
  const head = takeCells(letters, cells - 1 - tailCells);
  const tail = takeCells(letters.toReversed(), tailCells).toReversed();
  return `${head.join('')}…${tail.join('')}`;
}

function takeCells(letters: readonly string[], cells: number): string[] {
  const taken: string[] = [];
  let left = cells;
  for (const letter of letters) {
    left -= displayWidth(letter);
    if (left < 0) break;
    taken.push(letter);
  }
  return taken;
}
