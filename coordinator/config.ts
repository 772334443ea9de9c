// The coordinator's configuration: defaults, then the file, then the environment, then the command line. Everything
// that is wrong is told at once, each with its key, its place and what was expected.
import { readFile } from 'node:fs/promises';
import { homedir } from 'node:os';
import { dirname, resolve } from 'node:path';
import envPaths from 'env-paths';
import { MillError } from '#shared/errors.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import { type ConfigFile, configFileSchema, knownKeys } from './config/config-schema.ts';
import { findingsOf, formatFinding } from './config/describe-issue.ts';
import { type Override, readEnvironment } from './config/environment.ts';
import { readHouseFormats } from './config/house-formats-folder.ts';
import { readSettingsFile, type SettingsFile } from './config/settings-file.ts';

export type Config = {
  readonly listen: { readonly host: string; readonly port: number };
  /** Absolute. */
  readonly dataFolder: string;
  /** Null: run a private Redis. */
  readonly redisUrl: string | null;
  /** Volume name → absolute path on this machine. */
  readonly volumes: Readonly<Record<string, string>>;
  /** Newest version of every house format, built-in ones included. */
  readonly formats: readonly HouseFormat[];
  readonly token: string | null;
  readonly agents: { readonly heartbeatSeconds: number; readonly lostAfterSeconds: number };
  readonly plan: { readonly grainSeconds: number | null };
  readonly helperAgent: boolean;
  readonly logLevel: ConfigFile['logLevel'];
  readonly logFormat: ConfigFile['logFormat'];
};

export type ConfigSources = {
  readonly file: string | null;
  readonly environment: Readonly<Record<string, string | undefined>>;
  /** Options of the command line, as given: `listen` is `HOST:PORT`. */
  readonly options: { readonly redis?: string; readonly data?: string; readonly listen?: string };
};

/** Throws MillError `bad-config` with one line for each problem. The result is frozen through and through. */
export async function loadConfig(sources: ConfigSources): Promise<Config> {
  const file = sources.file === null ? null : await readSettingsFile(resolve(sources.file));
  if (file && file.problems.length > 0) throw badConfig(file.problems);
  const overrides = [...readEnvironment(sources.environment), ...readOptions(sources.options)];
  const parsed = configFileSchema.safeParse(merge(file?.value ?? {}, overrides));
  if (!parsed.success) {
    const findings = parsed.error.issues.flatMap((issue) => findingsOf(issue, knownKeys));
    throw badConfig(
      findings.map((finding) => formatFinding(placeOf(finding.path, file, overrides), finding)),
    );
  }
  const base = file === null ? process.cwd() : dirname(file.file);
  const place = (path: readonly string[]) => placeOf(path, file, overrides);
  return deepFreeze(await complete(parsed.data, base, place));
}

type PlaceOf = (path: readonly string[]) => string;

/** Fills in what depends on the machine, and checks what one key alone can't show. */
async function complete(raw: ConfigFile, base: string, place: PlaceOf): Promise<Config> {
  const { formatsFolder, tokenFile, token, dataFolder, volumes, ...rest } = raw;
  const [house, read] = await Promise.all([
    readHouseFormats(formatsFolder === null ? null : resolve(base, formatsFolder)),
    tokenFile === null ? { token, problems: [] } : readToken(resolve(base, tokenFile), place(['tokenFile'])),
  ]);
  const problems = [...house.problems, ...read.problems, ...crossChecks(raw, place)];
  if (problems.length > 0) throw badConfig(problems);
  return {
    ...rest,
    dataFolder: dataFolder === undefined ? defaultDataFolder() : resolve(base, dataFolder),
    volumes: volumes ?? { home: homedir() },
    formats: house.formats,
    token: read.token,
  };
}

function crossChecks(raw: ConfigFile, place: PlaceOf): string[] {
  const problems: string[] = [];
  if (raw.token !== null && raw.tokenFile !== null) {
    problems.push(`${place(['token'])}: token: expected either token or tokenFile, not both`);
  }
  if (!isLoopback(raw.listen.host) && raw.token === null && raw.tokenFile === null) {
    problems.push(
      `${place(['listen', 'host'])}: listen.host: ${raw.listen.host} can be reached from other machines, ` +
        'so a token is expected: set tokenFile, or listen on 127.0.0.1',
    );
  }
  if (raw.agents.lostAfterSeconds < 2 * raw.agents.heartbeatSeconds) {
    problems.push(
      `${place(['agents', 'lostAfterSeconds'])}: agents.lostAfterSeconds: expected at least twice agents.heartbeatSeconds ` +
        `(${raw.agents.heartbeatSeconds}), so that one late message loses no machine`,
    );
  }
  return problems;
}

async function readToken(file: string, place: string): Promise<{ token: string | null; problems: string[] }> {
  const text = await readFile(file, 'utf8').catch(() => null);
  if (text === null) return { token: null, problems: [`${place}: tokenFile: ${file} cannot be read`] };
  const checked = configFileSchema.shape.token.safeParse(text.trim());
  if (checked.success) return { token: checked.data, problems: [] };
  return {
    token: null,
    problems: [`${place}: tokenFile: ${checked.error.issues[0]?.message ?? 'not a token'}`],
  };
}

function readOptions({ redis, data, listen }: ConfigSources['options']): Override[] {
  const overrides: Override[] = [];
  if (redis !== undefined) overrides.push({ path: ['redisUrl'], value: redis, origin: '--redis' });
  if (data !== undefined) overrides.push({ path: ['dataFolder'], value: resolve(data), origin: '--data' });
  if (listen !== undefined) {
    const [, host, port] = /^\[?(.+?)\]?:(\d+)$/.exec(listen) ?? [];
    if (host === undefined)
      throw badConfig([`--listen: expected HOST:PORT such as 127.0.0.1:7311, not ${listen}`]);
    overrides.push({ path: ['listen', 'host'], value: host, origin: '--listen' });
    overrides.push({ path: ['listen', 'port'], value: Number(port), origin: '--listen' });
  }
  return overrides;
}

function merge(value: unknown, overrides: readonly Override[]): unknown {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return value;
  const merged = structuredClone(value) as Record<string, unknown>;
  for (const { path, value: override } of overrides) {
    const parents = path.slice(0, -1);
    let target = merged;
    for (const key of parents) {
      const next = target[key];
      target[key] = typeof next === 'object' && next !== null ? next : {};
      target = target[key] as Record<string, unknown>;
    }
    target[path.at(-1) ?? ''] = override;
  }
  return merged;
}

function placeOf(
  path: readonly PropertyKey[],
  file: SettingsFile | null,
  overrides: readonly Override[],
): string {
  const override = overrides.findLast((entry) =>
    entry.path.every((key, position) => key === String(path[position])),
  );
  if (override) return override.origin;
  return file === null ? 'configuration' : `${file.file}:${file.lineOf(path)}`;
}

function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || /^127(\.\d{1,3}){3}$/.test(host);
}

function defaultDataFolder(): string {
  return resolve(envPaths('nightmill', { suffix: '' }).data, 'coordinator');
}

function badConfig(problems: readonly string[]): MillError {
  const [first] = problems;
  const message =
    problems.length === 1
      ? (first ?? '')
      : `${problems.length} things are wrong:\n  ${problems.join('\n  ')}`;
  return new MillError('bad-config', message, { details: { problems } });
}

function deepFreeze<T>(value: T): T {
  if (typeof value === 'object' && value !== null && !Object.isFrozen(value)) {
    Object.freeze(value);
    for (const inner of Object.values(value)) deepFreeze(inner);
  }
  return value;
}
