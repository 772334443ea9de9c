// Volume paths, `rushes:day03/A001.mov`: a named storage place and a path below it, the same on every machine.
// Pure: text in, text out. Symbolic links are the business of whoever opens the file.
import { z } from 'zod';
import { MillError } from './errors.ts';

export const volumeNamePattern = /^[a-z][a-z0-9-]{0,31}$/;

export type VolumePath = { readonly volume: string; readonly path: string };

/** How a machine writes its paths. */
export type PathFlavour = 'posix' | 'windows';

/** Text form of a volume path; checked, kept as text on the wire and in the ledger. */
export const volumePathText = z
  .string()
  .min(3)
  .max(4096)
  .superRefine((text, context) => {
    const problem = volumePathProblem(text);
    if (problem !== null) context.addIssue({ code: 'custom', message: problem });
  });

/** Reads `volume:path`. Throws MillError `bad-request` or `outside-volume`. */
export function parseVolumePath(text: string): VolumePath {
  const problem = volumePathProblem(text);
  if (problem !== null) {
    throw new MillError(
      problem.includes('leaves') ? 'outside-volume' : 'bad-request',
      `${JSON.stringify(text)}: ${problem}`,
    );
  }
  const colon = text.indexOf(':');
  return { volume: text.slice(0, colon), path: text.slice(colon + 1) };
}

export function formatVolumePath(path: VolumePath): string {
  return `${path.volume}:${path.path}`;
}

/** A path below `folder`, with `/` between; both are volume paths without `..`. */
export function joinVolumePath(folder: VolumePath, name: string): VolumePath {
  const base = folder.path.replace(/\/+$/, '');
  return { volume: folder.volume, path: base === '' ? name : `${base}/${name}` };
}

/** File name without folders and without its last extension. `.hidden` keeps its name. */
export function stemOf(path: string): string {
  const name = path.slice(path.lastIndexOf('/') + 1);
  const dot = name.lastIndexOf('.');
  return dot > 0 ? name.slice(0, dot) : name;
}

/**
 * The absolute path on a machine where the volume is mounted at `root`. `path` has been checked by parseVolumePath.
 * Throws MillError `outside-volume` for names that Windows would read as another place.
 */
export function toLocalPath(root: string, path: string, flavour: PathFlavour): string {
  const separator = flavour === 'windows' ? '\\' : '/';
  const trimmed =
    root.endsWith(separator) || (flavour === 'windows' && root.endsWith('/')) ? root.slice(0, -1) : root;
  const parts = path.split('/').filter((part) => part !== '' && part !== '.');
  // A backslash or a colon is an ordinary letter on POSIX, but would leave the volume on Windows.
  if (flavour === 'windows' && parts.some((part) => /[\\:*?"<>|]/.test(part))) {
    throw new MillError(
      'outside-volume',
      `${JSON.stringify(path)} has letters that Windows cannot have in a name; rename it`,
    );
  }
  return [trimmed, ...parts].join(separator);
}

/** The volume path of an absolute path, or null when it is not below `root`. Windows compares without case. */
export function fromLocalPath(root: string, local: string, flavour: PathFlavour): string | null {
  const normal = (text: string) =>
    (flavour === 'windows' ? text.replaceAll('\\', '/') : text).replace(/\/+$/, '');
  const [base, full] = [normal(root), normal(local)];
  const same =
    flavour === 'windows'
      ? full.toLowerCase().startsWith(`${base.toLowerCase()}/`)
      : full.startsWith(`${base}/`);
  return same ? full.slice(base.length + 1) : null;
}

function volumePathProblem(text: string): string | null {
  const colon = text.indexOf(':');
  if (colon < 0) return 'a volume path is written volume:path, for example rushes:day03/A001.mov';
  if (!volumeNamePattern.test(text.slice(0, colon))) {
    return 'a volume name has 1 to 32 small letters, digits or hyphens and starts with a letter';
  }
  const path = text.slice(colon + 1);
  if (path.includes('\0')) return 'a path cannot hold a NUL character';
  if (path.startsWith('/')) return 'the path leaves its volume: it must be relative, without a leading slash';
  if (path.split('/').includes('..')) return 'the path leaves its volume: ".." is not allowed';
  return null;
}
