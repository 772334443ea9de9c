// What each wrapper can say about a film, as ffmpeg writes it (measured with 5.1; see the tests). The join writes what can
// be said and tells what can't; the check of labels demands what can.
import type { Wrapper } from '#shared/house-format.ts';
import { canonicalLanguage, languageFor } from './languages.ts';

/** Tags of the whole file that survive; Matroska takes any. */
const isoTags = [
  'title',
  'artist',
  'album',
  'comment',
  'copyright',
  'genre',
  'date',
  'location',
  'creation_time',
];
const carriedTags: Readonly<Record<Wrapper, ReadonlySet<string> | 'any'>> = {
  mov: new Set([...isoTags, 'make', 'model']),
  mp4: new Set([
    ...isoTags,
    ...[
      'description',
      'synopsis',
      'keywords',
      'show',
      'network',
      'episode_id',
      'season_number',
      'episode_sort',
      'composer',
    ],
  ]),
  mkv: 'any',
};

export const wrapperNames: Readonly<Record<Wrapper, string>> = {
  mov: 'QuickTime',
  mp4: 'MP4',
  mkv: 'Matroska',
};

export function carriesTag(wrapper: Wrapper, tag: string): boolean {
  const tags = carriedTags[wrapper];
  return tags === 'any' || tags.has(tag);
}

export function carriesReelName(wrapper: Wrapper): boolean {
  return wrapper !== 'mp4';
}

/** Matroska has no place for the channels' names; some codecs bring their own. */
export function namesChannels(wrapper: Wrapper, encoder: string): boolean {
  return wrapper !== 'mkv' || !encoder.startsWith('pcm_');
}

/** The code under which the wrapper keeps a language, null when it has none for it. */
export function carriedLanguage(wrapper: Wrapper, language: string): string | null {
  if (wrapper === 'mkv') return language;
  return languageFor(language, wrapper === 'mov' ? 'quicktime' : 'three-letters');
}

export function sameLanguage(a: string | null, b: string | null): boolean {
  return canonicalLanguage(a ?? 'und') === canonicalLanguage(b ?? 'und');
}
