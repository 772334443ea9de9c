// The keys of the coordinator's configuration, as they are written in a file. Every key has a default that works on
// one machine; what depends on the machine (folders) is filled in by loadConfig.
import { isAbsolute } from 'node:path';
import { z } from 'zod';
import { volumeNamePattern } from '#shared/volume-path.ts';

const logLevels = ['error', 'warn', 'info', 'debug'] as const;
const logFormats = ['text', 'json'] as const;

const someText = z.string().min(1);
const absolutePath = someText.refine(isAbsolute, 'expected an absolute path');
const volumeName = z
  .string()
  .regex(
    volumeNamePattern,
    'a volume name has 1 to 32 small letters, digits or hyphens and starts with a letter',
  );

export const configFileSchema = z.strictObject({
  listen: z
    .strictObject({
      host: z.string().min(1).default('127.0.0.1'),
      /** 0 takes any free port. */
      port: z.int().min(0).max(65_535).default(7311),
    })
    .prefault({}),
  /** The ledger, the embedded Redis, grains in progress. */
  dataFolder: someText.optional(),
  /** Null: the coordinator runs a private Redis of its own in the data folder. */
  redisUrl: z
    .url({ protocol: /^rediss?$/, error: 'expected a URL such as redis://127.0.0.1:6379' })
    .nullable()
    .default(null),
  /** Where each volume is mounted on this machine. */
  volumes: z.record(volumeName, absolutePath).optional(),
  /** House formats of the studio, one a file. */
  formatsFolder: someText.nullable().default(null),
  /** What agents and clients have to send; `tokenFile` keeps it out of this file. */
  token: z
    .string()
    .min(16, 'expected at least 16 characters, such as `openssl rand -hex 16` prints')
    .nullable()
    .default(null),
  tokenFile: someText.nullable().default(null),
  agents: z
    .strictObject({
      heartbeatSeconds: z.number().min(0.1).max(60).default(2),
      /** A machine that was silent for so long is taken for lost, and its work goes to others. */
      lostAfterSeconds: z.number().min(0.5).max(3600).default(10),
    })
    .prefault({}),
  plan: z
    .strictObject({
      /** Length of a grain for every format; null leaves it to the format. */
      grainSeconds: z.number().min(0.5).max(60).nullable().default(null),
    })
    .prefault({}),
  /** The coordinator's machine does the desk work (inspect, join, check, deliver) by an agent that it starts itself. */
  helperAgent: z.boolean().default(true),
  logLevel: z.enum(logLevels).default('info'),
  logFormat: z.enum(logFormats).default('text'),
});
export type ConfigFile = z.output<typeof configFileSchema>;

/** The keys that may stand at `path`, for messages; empty where anything may. */
export function knownKeys(path: readonly PropertyKey[]): string[] {
  let schema: unknown = configFileSchema;
  for (const key of path) schema = shapeOf(schema)[String(key)];
  return Object.keys(shapeOf(schema));
}

function shapeOf(schema: unknown): Record<string, unknown> {
  let inner = schema;
  while (inner instanceof z.ZodPrefault) inner = inner.unwrap();
  return inner instanceof z.ZodObject ? inner.shape : {};
}
