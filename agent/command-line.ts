// The agent's options as words on the command line and as NIGHTMILL_ variables, read into config values.
import path from 'node:path';
import { parseArgs } from 'node:util';
import { MillError } from '#shared/errors.ts';
import type { ConfigKey, ConfigSource } from './config.ts';

type Reading = {
  readonly key: ConfigKey;
  readonly option: string;
  readonly hint: string;
  readonly as: keyof typeof readers;
};

/** Every config key has an option and a variable: `encodePlaces`, `--encode-places`, `NIGHTMILL_ENCODE_PLACES`. */
const readings: readonly Reading[] = [
  { key: 'coordinator', option: 'coordinator', hint: 'URL of the coordinator', as: 'text' },
  { key: 'name', option: 'name', hint: 'name of this machine (default: its host name)', as: 'text' },
  { key: 'volumes', option: 'volume', hint: 'NAME=FOLDER, repeatable', as: 'volumes' },
  {
    key: 'encodePlaces',
    option: 'encode-places',
    hint: 'encoders at a time; 0 lends none (default 1)',
    as: 'count',
  },
  { key: 'deskPlaces', option: 'desk-places', hint: 'other tasks at a time (default 2)', as: 'count' },
  {
    key: 'formats',
    option: 'formats',
    hint: 'house formats to measure, with commas (default: all built-in)',
    as: 'list',
  },
  { key: 'state', option: 'state', hint: 'folder for id and scratch', as: 'folder' },
  {
    key: 'calibration',
    option: 'calibration',
    hint: 'folder for measured rates (default: in the state folder)',
    as: 'folder',
  },
  {
    key: 'lowPriority',
    option: 'low-priority',
    hint: 'true or false: encoders give way to others (default true)',
    as: 'flag',
  },
  { key: 'token', option: 'token', hint: '', as: 'text' },
  { key: 'tokenFile', option: 'token-file', hint: "file with the coordinator's token", as: 'folder' },
  { key: 'logFormat', option: 'log-format', hint: 'json or text', as: 'text' },
  { key: 'logLevel', option: 'log-level', hint: 'debug, info, warn or error', as: 'text' },
];

/** Each reads one or several texts; what can't be read is handed on as it is, for the schema to say what was expected. */
const readers = {
  text: ([text]: readonly string[]) => text,
  count: ([text = '']: readonly string[]) => (/^\d+$/.test(text) ? Number(text) : text),
  flag: ([text = '']: readonly string[]) => ({ true: true, false: false })[text] ?? text,
  list: (texts: readonly string[]) => texts.flatMap((text) => text.split(',')).filter((text) => text !== ''),
  folder: ([text = '']: readonly string[]) => path.resolve(text),
  volumes: (texts: readonly string[]) => Object.fromEntries(texts.map(readVolume)),
} satisfies Record<string, (texts: readonly string[]) => unknown>;

export type CommandLine = ConfigSource & {
  readonly configFile: string | null;
  /** End when the process that started this one is gone. */
  readonly endWithParent: boolean;
  readonly help: boolean;
};

/** Reads the words after the program's name. Throws MillError `bad-config` for an option that isn't known. */
export function readCommandLine(words: readonly string[]): CommandLine {
  const parsed = parseWords(words);
  const values: Record<string, unknown> = {};
  for (const { key, option, as } of readings) {
    const texts = parsed[option];
    if (Array.isArray(texts)) values[key] = readers[as](texts.map(String));
  }
  return {
    values,
    place: ([key]) => `--${readings.find((reading) => reading.key === key)?.option ?? String(key)}`,
    configFile: typeof parsed['config'] === 'string' ? parsed['config'] : null,
    endWithParent: parsed['end-with-parent'] === true,
    help: parsed['help'] === true,
  };
}

/** NIGHTMILL_ variables. Unknown ones are left alone: the coordinator has its own in the same environment. */
export function readEnvironment(
  environment: Readonly<Record<string, string | undefined>>,
): ConfigSource & { configFile: string | null } {
  const values: Record<string, unknown> = {};
  for (const { key, as } of readings) {
    const text = environment[variableOf(key)];
    // NIGHTMILL_VOLUMES holds several, with semicolons: a colon or a comma may stand in a path.
    if (text)
      values[key] = readers[as](as === 'volumes' ? text.split(';').filter((part) => part !== '') : [text]);
  }
  return {
    values,
    place: ([key]) => variableOf(String(key)),
    configFile: environment['NIGHTMILL_AGENT_CONFIG'] || null,
  };
}

export function commandLineHelp(): string {
  const shown = readings.filter(({ hint }) => hint !== '').map(({ option, hint }) => ({ option, hint }));
  const rows = [...shown, { option: 'config', hint: 'YAML or JSON file with the same keys' }];
  return [
    'Lends this machine to a coordinator.',
    '',
    ...rows.map(({ option, hint }) => `  --${option.padEnd(16)} ${hint}`),
    `  --${'end-with-parent'.padEnd(16)} stop when the process that started this one is gone`,
  ].join('\n');
}

function parseWords(words: readonly string[]): Record<string, unknown> {
  const valued = Object.fromEntries(
    readings.map(({ option }) => [option, { type: 'string', multiple: true }] as const),
  );
  try {
    return parseArgs({
      args: [...words],
      options: {
        ...valued,
        config: { type: 'string' },
        'end-with-parent': { type: 'boolean' },
        help: { type: 'boolean', short: 'h' },
      },
    }).values;
  } catch (error) {
    const reason = error instanceof Error ? (error.message.split('. ')[0] ?? error.message) : String(error);
    throw new MillError('bad-config', `${reason}; --help lists the options`);
  }
}

/** `rushes=/mnt/rushes`; without `=` the whole text is taken for the name, and the schema misses the folder. */
function readVolume(text: string): [string, string] {
  const equals = text.indexOf('=');
  return equals < 0 ? [text, ''] : [text.slice(0, equals), path.resolve(text.slice(equals + 1))];
}

function variableOf(key: string): string {
  return `NIGHTMILL_${key.replaceAll(/[A-Z]/g, (letter) => `_${letter}`).toUpperCase()}`;
}
