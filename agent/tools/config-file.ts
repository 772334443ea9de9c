// A config file with line numbers: YAML (and so JSON) read into plain values that still know where they stood.
import { readFile } from 'node:fs/promises';
import { MillError } from '#shared/errors.ts';

export type ConfigPath = readonly (string | number)[];

export type ConfigFile = {
  readonly values: Readonly<Record<string, unknown>>;
  /** `FILE:LINE` of a key, or of the nearest one above it that the file has. */
  place(path: ConfigPath): string;
};

/** Throws MillError `bad-config` when the file can't be read or is no mapping of keys. */
export async function readConfigFile(file: string): Promise<ConfigFile> {
  const { isMap, isScalar, LineCounter, parseDocument } = await import('yaml');
  const text = await readFile(file, 'utf8').catch((error: unknown) => {
    throw new MillError('bad-config', `cannot read the config file ${file}; check its name and permissions`, {
      cause: error,
    });
  });
  const lines = new LineCounter();
  const document = parseDocument(text, { lineCounter: lines });
  const fault = document.errors[0];
  if (fault) {
    throw new MillError(
      'bad-config',
      `${file}:${lines.linePos(fault.pos[0]).line}: ${firstLine(fault.message)}`,
    );
  }
  const values: unknown = document.toJS() ?? {};
  if (!isRecord(values)) {
    throw new MillError(
      'bad-config',
      `${file}:1: expected keys and values, for example "coordinator: http://server:7311"`,
    );
  }
  return { values, place: (path) => `${file}:${lineOf(path)}` };

  function lineOf(path: ConfigPath): number {
    let node: unknown = document.contents;
    let line = 1;
    for (const step of path) {
      const pair = isMap(node)
        ? node.items.find((item) => isScalar(item.key) && item.key.value === step)
        : undefined;
      if (!pair || !isScalar(pair.key)) break;
      line = lines.linePos(pair.key.range?.[0] ?? 0).line;
      node = pair.value;
    }
    return line;
  }
}

function isRecord(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/** The parser draws the place under its message; our own line says it already. */
function firstLine(message: string): string {
  return (message.split('\n')[0] ?? message).replace(/ at line \d+, column \d+:?$/, '');
}
