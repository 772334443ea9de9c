// Tables of plain text: columns as wide as their content, the longest ones shortened until a line fits the screen.
import { displayWidth, printable, shorten } from './display.ts';

export type Column<Row> = {
  readonly title: string;
  readonly value: (row: Row) => string | number | null;
  /** Figures stand to the right, so that their places line up. */
  readonly right?: boolean;
};

const gap = 2;
const narrowestColumn = 6;
/** Stands where there is nothing to say. */
const nothing = '–';

/** The lines of a table, the titles first. `columns` is the width of the screen in cells. */
export function formatTable<Row>(
  table: readonly Column<Row>[],
  rows: readonly Row[],
  columns: number,
): string[] {
  const cells = rows.map((row) => table.map((column) => printable(String(column.value(row) ?? nothing))));
  const titled = [table.map((column) => column.title), ...cells];
  const widths = shrink(
    table.map((_, index) => Math.max(...titled.map((line) => displayWidth(line[index] ?? '')))),
    columns,
  );
  return titled.map((line) => {
    const padded = line.map((cell, index) =>
      pad(shorten(cell, widths[index] ?? 0), widths[index] ?? 0, table[index]?.right),
    );
    return padded.join(' '.repeat(gap)).trimEnd();
  });
}

/** Takes from the widest column until all fit, but leaves each enough to be told apart. */
function shrink(widths: readonly number[], columns: number): number[] {
  const shrunk = [...widths];
  let excess = shrunk.reduce((sum, width) => sum + width, 0) + gap * (shrunk.length - 1) - columns;
  while (excess > 0) {
    const widest = Math.max(...shrunk);
    if (widest <= narrowestColumn) break;
    shrunk[shrunk.indexOf(widest)] = widest - 1;
    excess -= 1;
  }
  return shrunk;
}

function pad(text: string, width: number, right = false): string {
  const space = ' '.repeat(Math.max(0, width - displayWidth(text)));
  return right ? space + text : text + space;
}
