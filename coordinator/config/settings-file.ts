// A YAML or JSON file of settings, read so that every value can be traced to its line. JSON is YAML, too.
import { readFile } from 'node:fs/promises';
import type { Document, LineCounter, Node } from 'yaml';

export type SettingsFile = {
  readonly file: string;
  /** What the file holds as plain values; null for an empty one. */
  readonly value: unknown;
  /** Line of a key or of the nearest thing around it, from 1. */
  lineOf(path: readonly PropertyKey[]): number;
  /** What is wrong with the file itself: `file:line: message`. The value is then of no use. */
  readonly problems: readonly string[];
};

export async function readSettingsFile(file: string): Promise<SettingsFile> {
  let text: string;
  try {
    text = await readFile(file, 'utf8');
  } catch (error) {
    return unreadable(file, `cannot be read (${(error as NodeJS.ErrnoException).code ?? String(error)})`);
  }
  // Loaded here since most starts read no file.
  const yaml = await import('yaml');
  const lines = new yaml.LineCounter();
  const document = yaml.parseDocument(text, { lineCounter: lines, prettyErrors: false });
  const problems = document.errors.map(
    (error) => `${file}:${lines.linePos(error.pos[0]).line}: ${error.message}`,
  );
  return {
    file,
    value: problems.length > 0 ? null : (document.toJS() as unknown),
    lineOf: (path) => findLine(document, lines, path),
    problems,
  };
}

function findLine(document: Document, lines: LineCounter, path: readonly PropertyKey[]): number {
  let node: unknown = document.contents;
  let offset = startOf(node) ?? 0;
  for (const key of path) {
    const pair = itemOf(node, key);
    offset = startOf(pair?.key) ?? startOf(pair?.value) ?? offset;
    node = pair?.value;
  }
  return lines.linePos(offset).line;
}

type Item = { readonly key: unknown; readonly value: unknown };

function itemOf(node: unknown, key: PropertyKey): Item | undefined {
  const items = (node as { items?: readonly unknown[] } | null | undefined)?.items ?? [];
  const pair = items.find((item) => String((item as Item).key) === String(key));
  if (pair) return pair as Item;
  const element = typeof key === 'number' ? items[key] : undefined;
  return element === undefined ? undefined : { key: element, value: element };
}

function startOf(node: unknown): number | undefined {
  return (node as Node | null | undefined)?.range?.[0];
}

function unreadable(file: string, reason: string): SettingsFile {
  return { file, value: null, lineOf: () => 1, problems: [`${file}: ${reason}`] };
}
