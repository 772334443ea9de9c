// Texts that belong to the film and not to the program that wrote the file.

type Tags = Readonly<Record<string, string>>;

/** The tags that are kept, in lower case; a wrapper's own names for the same thing follow after `=`. */
const keptTags = (
  'title artist album comment description synopsis copyright genre keywords show network ' +
  'episode_id season_number episode_sort composer performer publisher director producer ' +
  'date creation_time location make model scene shot take project_name'
).split(' ');

const otherNames: Tags = {
  author: 'artist',
  year: 'date',
  date_released: 'date',
  summary: 'synopsis',
  'location-eng': 'location',
  'com.apple.quicktime.title': 'title',
  'com.apple.quicktime.author': 'artist',
  'com.apple.quicktime.comment': 'comment',
  'com.apple.quicktime.description': 'description',
  'com.apple.quicktime.copyright': 'copyright',
  'com.apple.quicktime.keywords': 'keywords',
  'com.apple.quicktime.make': 'make',
  'com.apple.quicktime.model': 'model',
  'com.apple.quicktime.location.iso6709': 'location',
};

/** A tag by its name without regard to case; null when absent or blank. */
export function tagOf(tags: Tags, name: string): string | null {
  const key = Object.keys(tags).find((candidate) => candidate.toLowerCase() === name);
  const value = key === undefined ? '' : (tags[key] ?? '').trim();
  return value === '' ? null : value;
}

/** The container's tags that are kept, under their common names. A common name wins over a wrapper's own. */
export function keptTagsOf(tags: Tags): Record<string, string> {
  const aliases = Object.entries(otherNames).filter(([alias]) => tagOf(tags, alias) !== null);
  const found = [
    ...aliases.map(([alias, name]) => [name, tagOf(tags, alias)] as const),
    ...keptTags.map((name) => [name, tagOf(tags, name)] as const),
  ];
  return Object.fromEntries(found.filter((entry): entry is [string, string] => entry[1] !== null));
}
