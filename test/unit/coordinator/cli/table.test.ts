// Tables and the text in them: aligned, fitting the screen, and harmless whatever a file is called.
import { expect, test } from 'vitest';
import { displayWidth, printable, shorten } from '../../../../coordinator/cli/display.ts';
import { type Column, formatTable } from '../../../../coordinator/cli/table.ts';

type Row = { readonly name: string; readonly frames: number | null };
const columns: readonly Column<Row>[] = [
  { title: 'name', value: (row) => row.name },
  { title: 'frames', value: (row) => row.frames, right: true },
];

test('columns are as wide as what stands in them, figures to the right', () => {
  const rows = [
    { name: 'A001.mov', frames: 7 },
    { name: 'B', frames: 123456 },
    { name: 'C', frames: null },
  ];
  expect(formatTable(columns, rows, 80)).toEqual([
    'name      frames',
    'A001.mov       7',
    'B         123456',
    'C              –',
  ]);
});

test('a table that is too wide is shortened in its widest column until it fits', () => {
  const rows = [{ name: `${'long-'.repeat(30)}end.mov`, frames: 1 }];
  const lines = formatTable(columns, rows, 40);
  expect(lines.map(displayWidth)).toEqual([40, 40]);
  expect(lines[1]).toMatch(/^long-long-.*….*end\.mov +1$/);
});

test('a narrow screen leaves each column enough to be told apart', () => {
  const [, line] = formatTable(columns, [{ name: 'x'.repeat(50), frames: 1 }], 3);
  expect(line).toBe('xxx…xx       1');
});

test('letters of two cells and letters of several marks are counted as they stand', () => {
  expect(displayWidth('編集')).toBe(4);
  // e and a combining acute accent are one letter.
  expect(displayWidth('caf\u0065\u0301')).toBe(4);
  expect(displayWidth('🎬')).toBe(2);
  const lines = formatTable(
    columns,
    [
      { name: '編集', frames: 1 },
      { name: 'cut', frames: 2 },
    ],
    80,
  );
  expect(lines.map(displayWidth)).toEqual([12, 12, 12]);
});

test('a shortened text keeps both ends and never more cells than it may have', () => {
  expect(shorten('day03/A001_C002.mov', 11)).toBe('day03…2.mov');
  expect(displayWidth(shorten('編集編集編集', 6))).toBeLessThanOrEqual(6);
  expect(shorten('short', 5)).toBe('short');
});

test.each([
  ['two\nlines', String.raw`two\nlines`],
  ['\u001B[2Jcleared', String.raw`\u{1B}[2Jcleared`],
  ['ring\u0007', String.raw`ring\u{7}`],
  ['turned\u202Evom', String.raw`turned\u{202E}vom`],
  ['plain – ünï', 'plain – ünï'],
])('%j is shown as %s', (text, shown) => {
  expect(printable(text)).toBe(shown);
});
