// Small text files that ffmpeg reads at the join: the grains in order, and what the film says of itself.
import type { MediaFacts } from '#shared/facts.ts';
import type { Wrapper } from '#shared/house-format.ts';
import { divide, type Rational, rational, toDecimal } from '#shared/rational.ts';
import { carriesTag } from './wrapper-carries.ts';

export type ListedGrain = { readonly path: string; readonly frames: number };

/**
 * ffmpeg's concat script. A grain's own idea of its length is never asked: each gets its frames / rate. The lengths are
 * differences of rounded borders, so that their rounding doesn't add up over a long film.
 */
export function concatScript(grains: readonly ListedGrain[], rate: Rational): string {
  const lines = ['ffconcat version 1.0'];
  let frames = 0;
  for (const grain of grains) {
    const from = microseconds(frames, rate);
    frames += grain.frames;
    lines.push(
      `file ${quoted(`file:${grain.path}`)}`,
      `duration ${decimal(microseconds(frames, rate) - from)}`,
    );
  }
  return `${lines.join('\n')}\n`;
}

export type FilmTexts = {
  readonly tags: MediaFacts['tags'];
  readonly chapters: MediaFacts['chapters'];
  readonly wrapper: Wrapper;
  /** Where the first picture stands, seconds. */
  readonly start: Rational;
};

/** ffmpeg's metadata file: tags that the wrapper carries, and chapters on the deliverable's own clock. */
export function metadataFile({ tags, chapters, wrapper, start }: FilmTexts): string {
  const kept = Object.entries(tags).filter(([tag]) => carriesTag(wrapper, tag));
  return [
    ';FFMETADATA1',
    ...kept.map(([tag, text]) => `${escaped(tag)}=${escaped(text)}`),
    ...fromStart(chapters, wrapper).flatMap((chapter) => [
      ...['[CHAPTER]', 'TIMEBASE=1/1000000'],
      `START=${chapterTicks(chapter.startSeconds, start)}`,
      `END=${chapterTicks(chapter.endSeconds, start)}`,
      ...(chapter.title === '' ? [] : [`title=${escaped(chapter.title)}`]),
    ]),
    '',
  ].join('\n');
}

/** QuickTime and MP4 tell chapters by their lengths alone: what comes before the first has to be a chapter as well. */
export function fromStart(chapters: MediaFacts['chapters'], wrapper: Wrapper): MediaFacts['chapters'] {
  const [first] = chapters;
  if (wrapper === 'mkv' || first === undefined || first.startSeconds <= 0) return chapters;
  return [{ startSeconds: 0, endSeconds: first.startSeconds, title: '' }, ...chapters];
}

function chapterTicks(seconds: number, start: Rational): number {
  return Math.round(seconds * 1e6) + Math.round((start.num / start.den) * 1e6);
}

function microseconds(frames: number, rate: Rational): bigint {
  return BigInt(toDecimal(divide(rational(frames), rate), 6, 'nearest').replace('.', ''));
}

function decimal(micros: bigint): string {
  const text = micros.toString().padStart(7, '0');
  return `${text.slice(0, -6)}.${text.slice(-6)}`;
}

/** The script's quoting: everything between apostrophes is literal, and an apostrophe is written outside of them. */
function quoted(text: string): string {
  return `'${text.replaceAll("'", `'\\''`)}'`;
}

function escaped(text: string): string {
  return text.replace(/[=;#\\\n]/g, (letter) => `\\${letter}`);
}
