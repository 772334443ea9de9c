// What was proven and measured on this machine before, kept in a file that its agents share. Everything is keyed by what
// it depends on: another ffmpeg, processor or format finds nothing and is measured anew.
import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import path from 'node:path';
import { z } from 'zod';
import type { HouseFormat } from '#shared/house-format.ts';
import { laneSchema } from '#shared/link.ts';
import type { MachineFacts } from '../tools/machine-facts.ts';
import { writeWhole } from '../tools/publish-file.ts';

const calibrationSchema = z.strictObject({
  schema: z.literal(1),
  /** Version of an ffmpeg, by its file (`path|bytes|modified`). */
  ffmpegs: z.record(z.string(), z.string()),
  proofs: z.record(z.string(), z.strictObject({ libraryVersion: z.string().nullable() })),
  rates: z.record(z.string(), laneSchema.shape.rates.valueType),
});
export type Calibration = z.infer<typeof calibrationSchema>;

/** What every proof and every rate depends on. */
export type Ground = { readonly ffmpegVersion: string; readonly machine: MachineFacts };

const fileName = 'calibration.json';

/** An absent or unreadable file is an empty one. */
export async function readCalibration(folder: string): Promise<Calibration> {
  const text = await readFile(path.join(folder, fileName), 'utf8').catch(() => '{}');
  const checked = calibrationSchema.safeParse(parse(text));
  return checked.success ? checked.data : { schema: 1, ffmpegs: {}, proofs: {}, rates: {} };
}

/** Adds to what is there now. Writers take turns (see hold-name.ts); readers always see a whole file. */
export async function addToCalibration(
  folder: string,
  found: Partial<Omit<Calibration, 'schema'>>,
): Promise<void> {
  const { ffmpegs, proofs, rates } = await readCalibration(folder);
  const next: Calibration = {
    schema: 1,
    ffmpegs: { ...ffmpegs, ...found.ffmpegs },
    proofs: { ...proofs, ...found.proofs },
    rates: { ...rates, ...found.rates },
  };
  await writeWhole(path.join(folder, fileName), `${JSON.stringify(next, null, 1)}\n`);
}

export function proofKey({ ffmpegVersion, machine }: Ground, encoder: string): string {
  return [encoder, ffmpegVersion, machine.cpu, machine.cores].join('|');
}

/** Two contents under one name and version are two formats. */
export function rateKey(ground: Ground, encoder: string, format: HouseFormat): string {
  const content = createHash('sha256').update(JSON.stringify(format)).digest('hex').slice(0, 16);
  return [proofKey(ground, encoder), formatKey(format), content].join('|');
}

/** `edit-proxy@1`. */
export function formatKey({ name, version }: Pick<HouseFormat, 'name' | 'version'>): string {
  return `${name}@${version}`;
}

function parse(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
