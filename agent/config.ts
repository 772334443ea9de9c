// The agent's config: checked once, all problems told together, each with the place it came from and what was expected.
// The command line wins over the environment, the environment over the file, the file over the defaults.
import { readFile } from 'node:fs/promises';
import os from 'node:os';
import path from 'node:path';
import envPaths from 'env-paths';
import { z } from 'zod';
import { MillError } from '#shared/errors.ts';
import { builtInFormats } from '#shared/house-formats.ts';
import { type PathFlavour, volumeNamePattern } from '#shared/volume-path.ts';
import { type ConfigPath, readConfigFile } from './tools/config-file.ts';
import { logFormats, logLevels } from './tools/logger.ts';

const formatNames = builtInFormats.map((format) => format.name) as [string, ...string[]];

/** One machine can't run more encoders than this in any sensible way; a larger number is a slip. */
const maxPlaces = 64;

function configSchema(flavour: PathFlavour) {
  const example = flavour === 'windows' ? 'D:\\rushes or \\\\server\\rushes' : '/mnt/rushes';
  const folder = z
    .string()
    .refine((text) => isAbsolutePath(text, flavour), `expected an absolute path such as ${example}`);
  const volumeName = z
    .string()
    .regex(volumeNamePattern, 'expected small letters, digits and hyphens, a letter first');
  return z
    .strictObject({
      coordinator: z.url({
        protocol: /^https?$/,
        hostname: /./,
        error: 'expected the URL of the coordinator such as http://server:7311',
      }),
      token: z.string().min(1).nullable().default(null),
      tokenFile: folder.nullable().default(null),
      name: z.string().trim().min(1).max(64).default(os.hostname().slice(0, 64)),
      volumes: z.record(volumeName, folder).default({}),
      encodePlaces: z.int().min(0).max(maxPlaces).default(1),
      deskPlaces: z.int().min(0).max(maxPlaces).default(2),
      state: folder.default(() => path.join(envPaths('nightmill', { suffix: '' }).data, 'agent')),
      calibration: folder.nullable().default(null),
      formats: z.array(z.enum(formatNames)).default([...formatNames]),
      lowPriority: z.boolean().default(true),
      logFormat: z.enum(logFormats).default('json'),
      logLevel: z.enum(logLevels).default('info'),
    })
    .refine((config) => config.encodePlaces + config.deskPlaces > 0, {
      path: ['deskPlaces'],
      error: 'expected encodePlaces and deskPlaces to be at least 1 together: this agent would lend nothing',
    });
}

export type ConfigKey = keyof z.input<ReturnType<typeof configSchema>>;

/** `state` holds the agent's id and scratch; `calibration` the measured rates, which agents of a machine may share. */
export type AgentConfig = Readonly<
  Omit<z.output<ReturnType<typeof configSchema>>, 'calibration' | 'tokenFile'> & { calibration: string }
>;

/** Values of one origin, keyed like the config, and how a person finds a value there. */
export type ConfigSource = {
  readonly values: Readonly<Record<string, unknown>>;
  place(path: ConfigPath): string;
};

export type ConfigOrigins = {
  readonly commandLine: ConfigSource;
  readonly environment: ConfigSource;
  readonly file: string | null;
  readonly flavour: PathFlavour;
};

/** Reads file and token file, checks everything. Throws MillError `bad-config` with one line for each problem. */
export async function loadConfig(origins: ConfigOrigins): Promise<AgentConfig> {
  const file = origins.file === null ? [] : [await readOwnFile(origins.file)];
  const { calibration, tokenFile, token, ...rest } = checkConfig(
    [...file, origins.environment, origins.commandLine],
    origins.flavour,
  );
  return {
    ...rest,
    token: token ?? (tokenFile === null ? null : await readToken(tokenFile)),
    calibration: calibration ?? path.join(rest.state, 'calibration'),
  };
}

/** The agent's own files stand relative to the config file, as the coordinator's do; volumes are absolute. */
async function readOwnFile(file: string): Promise<ConfigSource> {
  const read = await readConfigFile(file);
  const besideFile = (value: unknown) =>
    typeof value === 'string' && value !== '' ? path.resolve(path.dirname(file), value) : value;
  const own = ownFiles.filter((key) => Object.hasOwn(read.values, key));
  const moved = Object.fromEntries(own.map((key) => [key, besideFile(read.values[key])]));
  return { ...read, values: { ...read.values, ...moved } };
}

const ownFiles: readonly ConfigKey[] = ['tokenFile', 'state', 'calibration'];

/** Merges and checks; later sources win, volumes are merged by name. Throws MillError `bad-config`. */
export function checkConfig(sources: readonly ConfigSource[], flavour: PathFlavour) {
  const merged: Record<string, unknown> = {};
  for (const { values } of sources) {
    for (const [key, value] of Object.entries(values)) {
      const both = key === 'volumes' && isRecord(value) && isRecord(merged[key]);
      merged[key] = both ? { ...(merged[key] as object), ...value } : value;
    }
  }
  const checked = configSchema(flavour).safeParse(merged);
  if (checked.success) return checked.data;
  const problems = checked.error.issues.flatMap((issue) => describeIssue(issue, sources));
  throw new MillError('bad-config', problems.join('\n'));
}

function describeIssue(issue: z.core.$ZodIssue, sources: readonly ConfigSource[]): string[] {
  const steps = issue.path.map((step) => (typeof step === 'symbol' ? String(step) : step));
  if (issue.code === 'unrecognized_keys') {
    return issue.keys.map(
      (key) =>
        `${placeOf([...steps, key], sources)}unknown key ${key}; the keys are ${Object.keys(configSchema('posix').shape).join(', ')}`,
    );
  }
  if (steps.length === 1 && steps[0] === 'coordinator' && !has(sources, 'coordinator')) {
    return [
      'coordinator: expected the URL of the coordinator such as http://server:7311; give --coordinator URL',
    ];
  }
  const inner = issue.code === 'invalid_key' ? issue.issues[0]?.message : undefined;
  return [
    `${placeOf(steps, sources)}${steps.join('.')}: ${(inner ?? issue.message).replace(/^Invalid (input|option): /, '')}`,
  ];
}

function placeOf(steps: ConfigPath, sources: readonly ConfigSource[]): string {
  const source =
    sources.findLast(({ values }) => hasPath(values, steps)) ??
    sources.findLast(({ values }) => hasPath(values, steps.slice(0, 1)));
  return source ? `${source.place(steps)}: ` : '';
}

function has(sources: readonly ConfigSource[], key: string): boolean {
  return sources.some(({ values }) => Object.hasOwn(values, key));
}

function hasPath(values: unknown, steps: ConfigPath): boolean {
  const [first, ...rest] = steps;
  if (first === undefined) return true;
  return isRecord(values) && Object.hasOwn(values, first) && hasPath(values[first], rest);
}

async function readToken(file: string): Promise<string> {
  const text = await readFile(file, 'utf8').catch((error: unknown) => {
    throw new MillError('bad-config', `tokenFile: cannot read ${file}; check its name and permissions`, {
      cause: error,
    });
  });
  if (text.trim() === '')
    throw new MillError('bad-config', `tokenFile: ${file} is empty; expected the coordinator's token`);
  return text.trim();
}

function isAbsolutePath(text: string, flavour: PathFlavour): boolean {
  // `\rushes` is absolute to Windows but depends on the drive that happens to be current.
  return flavour === 'windows' ? /^([A-Za-z]:[\\/]|[\\/]{2}[^\\/])/.test(text) : path.posix.isAbsolute(text);
}

function isRecord(value: unknown): value is Record<string | number, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
