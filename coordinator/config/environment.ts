// Environment variables that override the file: the key's path in capitals, words apart (`listen.port` is
// NIGHTMILL_LISTEN_PORT). Relative paths start at the working folder.
import { resolve } from 'node:path';

type Kind = 'text' | 'path' | 'number' | 'boolean' | 'volumes';

const settings: readonly (readonly [path: string, kind: Kind])[] = [
  ['listen.host', 'text'],
  ['listen.port', 'number'],
  ['dataFolder', 'path'],
  ['redisUrl', 'text'],
  ['volumes', 'volumes'],
  ['formatsFolder', 'path'],
  ['token', 'text'],
  ['tokenFile', 'path'],
  ['agents.heartbeatSeconds', 'number'],
  ['agents.lostAfterSeconds', 'number'],
  ['plan.grainSeconds', 'number'],
  ['helperAgent', 'boolean'],
  ['logLevel', 'text'],
  ['logFormat', 'text'],
];

/** One value that overrides others; `origin` is how messages call it. */
export type Override = { readonly path: readonly string[]; readonly value: unknown; readonly origin: string };

/** What the environment sets. Text that is no number or boolean stays text, so that the schema can refuse it. */
export function readEnvironment(environment: Readonly<Record<string, string | undefined>>): Override[] {
  return settings.flatMap(([path, kind]) => {
    const name = variableName(path);
    const text = environment[name];
    return text === undefined || text === ''
      ? []
      : [{ path: path.split('.'), value: convert(text, kind), origin: name }];
  });
}

function variableName(path: string): string {
  return `NIGHTMILL_${path.replace(/[A-Z]/g, '_$&').replaceAll('.', '_').toUpperCase()}`;
}

function convert(text: string, kind: Kind): unknown {
  if (kind === 'path') return resolve(text);
  if (kind === 'volumes') return readVolumes(text);
  if (kind === 'number' && Number.isFinite(Number(text))) return Number(text);
  if (kind === 'boolean' && (text === 'true' || text === 'false')) return text === 'true';
  return text;
}

/** `rushes=/mnt/rushes;share=/mnt/share`: semicolons between them, since colons and commas stand in paths. */
function readVolumes(text: string): Record<string, string> {
  const entries = text.split(';').filter((entry) => entry !== '');
  return Object.fromEntries(
    entries.map((entry) => [entry.split('=', 1)[0] ?? '', entry.slice(entry.indexOf('=') + 1)]),
  );
}
