// The studio's own house formats, one a file, beside the built-in ones. A format takes a built-in one's place only
// with a higher version, so that a report's `name@version` always means one thing.
import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { type HouseFormat, houseFormatSchema } from '#shared/house-format.ts';
import { builtInFormats } from '#shared/house-formats.ts';
import { findingsOf, formatFinding } from './describe-issue.ts';
import { readSettingsFile } from './settings-file.ts';

export type FormatsRead = { readonly formats: readonly HouseFormat[]; readonly problems: readonly string[] };

type Loaded = { readonly format: HouseFormat; readonly file: string };

/** The newest version of every format, built-in ones first, with all problems of all files. */
export async function readHouseFormats(folder: string | null): Promise<FormatsRead> {
  if (folder === null) return { formats: builtInFormats, problems: [] };
  const names = await readdir(folder).catch(() => null);
  if (names === null)
    return { formats: builtInFormats, problems: [`formatsFolder: ${folder} is no folder that can be read`] };
  const files = names.filter((name) => /\.(ya?ml|json)$/i.test(name)).toSorted();
  const read = await Promise.all(files.map((name) => readFormat(join(folder, name))));
  const loaded = read.flatMap((entry) => ('format' in entry ? [entry] : []));
  const problems = read.flatMap((entry) => ('problems' in entry ? entry.problems : []));
  return { formats: newestOf(loaded), problems: [...problems, ...clashesOf(loaded)] };
}

async function readFormat(file: string): Promise<Loaded | { readonly problems: readonly string[] }> {
  const settings = await readSettingsFile(file);
  if (settings.problems.length > 0) return { problems: settings.problems };
  const parsed = houseFormatSchema.safeParse(settings.value);
  if (parsed.success) return { format: parsed.data, file };
  const findings = parsed.error.issues.flatMap((issue) => findingsOf(issue, () => []));
  return {
    problems: findings.map((finding) => formatFinding(`${file}:${settings.lineOf(finding.path)}`, finding)),
  };
}

function clashesOf(loaded: readonly Loaded[]): string[] {
  return loaded.flatMap(({ format, file }, position) => {
    const builtIn = builtInFormats.find((candidate) => candidate.name === format.name);
    if (builtIn && format.version <= builtIn.version) {
      return [
        `${file}: version: ${format.name} is built in as version ${builtIn.version}; expected a higher one`,
      ];
    }
    const twin = loaded.slice(0, position).find((other) => label(other.format) === label(format));
    return twin
      ? [`${file}: version: ${twin.file} is ${label(format)} already; expected another version`]
      : [];
  });
}

function newestOf(loaded: readonly Loaded[]): HouseFormat[] {
  const newest = new Map(builtInFormats.map((format) => [format.name, format]));
  for (const { format } of loaded) {
    const known = newest.get(format.name);
    if (!known || format.version > known.version) newest.set(format.name, format);
  }
  return [...newest.values()];
}

function label(format: HouseFormat): string {
  return `${format.name}@${format.version}`;
}
