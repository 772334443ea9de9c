// What `once` is asked to do, checked before anything is started: sources that are files, a format that is known, a
// folder that can be delivered to, no two deliverables of one name.
import { createHash } from 'node:crypto';
import { constants } from 'node:fs';
import { access, realpath, stat } from 'node:fs/promises';
import { basename, dirname, join, relative, resolve, sep } from 'node:path';
import { type HouseFormat, wrapperExtensions } from '#shared/house-format.ts';
import { builtInFormats } from '#shared/house-formats.ts';
import { stemOf } from '#shared/volume-path.ts';
import { printable } from '../display.ts';
import { CommandError, exitCodes } from '../exit-codes.ts';

/** A folder of this machine under the name that the coordinator and the agents of this call know it by. */
export type LocalVolume = { readonly name: string; readonly root: string };

export type OnceSource = {
  /** Absolute path, as the report tells it. */
  readonly path: string;
  readonly volume: LocalVolume;
  readonly volumePath: string;
};

export type OnceRequest = {
  readonly sources: readonly OnceSource[];
  readonly format: HouseFormat;
  readonly destination: LocalVolume;
  /** Volume path of the folder to deliver to. */
  readonly to: string;
  readonly agents: number;
  /** Null: a temporary one that is removed afterwards. */
  readonly dataFolder: string | null;
};

export type OnceOptions = {
  readonly format: string;
  readonly to: string;
  readonly agents: number;
  readonly data?: string;
};

/** Throws CommandError with exit code 2 and one sentence. */
export async function checkOnceRequest(paths: readonly string[], options: OnceOptions): Promise<OnceRequest> {
  const format = builtInFormats.find((candidate) => candidate.name === options.format);
  if (!format) {
    const names = builtInFormats.map((candidate) => candidate.name).join(', ');
    throw wrong(`there is no house format ${printable(options.format)}; there are ${names}`);
  }
  const sources: OnceSource[] = [];
  for (const path of paths) sources.push(await checkSource(resolve(path)));
  const to = resolve(options.to);
  requireDistinct(sources, format, to);
  return {
    sources,
    format,
    ...(await checkDestination(to)),
    agents: options.agents,
    dataFolder: options.data === undefined ? null : resolve(options.data),
  };
}

async function checkSource(path: string): Promise<OnceSource> {
  const shown = printable(path);
  const found = await stat(path).catch(() => null);
  if (found === null) throw wrong(`${shown} is not there; check the path`);
  if (!found.isFile()) throw wrong(`${shown} is not a file; name each file of a folder by itself`);
  await access(path, constants.R_OK).catch(() => {
    throw wrong(`${shown} cannot be read; check its permissions`);
  });
  const root = await rootOf(path);
  const volume = { name: volumeName('src', root), root };
  return { path, volume, volumePath: `${volume.name}:${slashed(relative(root, path))}` };
}

/** The folder of the source. Of a link that leads out of it, the nearest folder that holds both the link and its end. */
async function rootOf(path: string): Promise<string> {
  const end = await realpath(path);
  let root = dirname(path);
  while (!isBelow(await realpath(root), end) && dirname(root) !== root) root = dirname(root);
  return root;
}

function isBelow(folder: string, path: string): boolean {
  return path.startsWith(folder.endsWith(sep) ? folder : `${folder}${sep}`);
}

/** The destination's volume is the part of it that exists; folders below it are made when something is delivered. */
async function checkDestination(to: string): Promise<{ destination: LocalVolume; to: string }> {
  let root = to;
  let found = await stat(root).catch(() => null);
  while (found === null && dirname(root) !== root) {
    root = dirname(root);
    found = await stat(root).catch(() => null);
  }
  if (!found?.isDirectory()) throw wrong(`${printable(root)} is not a folder; name a folder with --to`);
  await access(root, constants.W_OK).catch(() => {
    throw wrong(
      `${printable(root)} cannot be written; check its permissions, or name another folder with --to`,
    );
  });
  const destination = { name: volumeName('dest', root), root };
  return { destination, to: `${destination.name}:${slashed(relative(root, to))}` };
}

function requireDistinct(sources: readonly OnceSource[], format: HouseFormat, to: string): void {
  const makers = new Map<string, string>();
  for (const { path } of sources) {
    const stem = stemOf(slashed(basename(path)));
    const name = format.namePattern
      .replaceAll('{stem}', () => stem)
      .replaceAll('{format}', () => format.name);
    const deliverable = join(to, `${name}${wrapperExtensions[format.wrapper]}`);
    const other = makers.get(deliverable);
    if (other === path) throw wrong(`${printable(path)} is named twice`);
    if (other !== undefined) {
      const both = `${printable(other)} and ${printable(path)}`;
      throw wrong(`${both} would both become ${printable(deliverable)}; deliver them to different folders`);
    }
    makers.set(deliverable, path);
  }
}

/** The same folder has the same name in every call, so that a data folder that is used again means the same by it. */
function volumeName(kind: 'src' | 'dest', root: string): string {
  return `${kind}-${createHash('sha256').update(root).digest('hex').slice(0, 12)}`;
}

function slashed(path: string): string {
  return sep === '/' ? path : path.replaceAll(sep, '/');
}

function wrong(message: string): CommandError {
  return new CommandError(exitCodes.wrongRequest, message);
}
