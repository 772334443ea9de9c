// Part of the check `labels`: timecode, reel, chapters and the film's own texts.
import type { MediaFacts } from '#shared/facts.ts';
import type { Wrapper } from '#shared/house-format.ts';
import type { Plan } from '#shared/plan.ts';
import { type Rational, toNumber } from '#shared/rational.ts';
import type { ProbeHeader } from '../facts/probe-report.ts';
import { tagOf } from '../facts/tags.ts';
import { fromStart } from '../join-list.ts';
import { carriesReelName, carriesTag } from '../wrapper-carries.ts';
import { differs } from './differs.ts';

export type TextLabels = {
  readonly facts: Pick<MediaFacts, 'reelName' | 'tags' | 'chapters'>;
  readonly format: { readonly wrapper: Wrapper };
  readonly plan: Pick<Plan, 'timecode'>;
  readonly header: ProbeHeader;
  readonly start: Rational;
};

export function textLabelFaults(labels: TextLabels): string[] {
  const { plan, facts, format, header } = labels;
  const reel = facts.reelName !== null && carriesReelName(format.wrapper) ? facts.reelName : null;
  return [
    ...(plan.timecode === null ? [] : differs('the timecode', anywhere(header, 'timecode'), plan.timecode)),
    ...(reel === null ? [] : differs('the reel name', anywhere(header, 'reel_name'), reel)),
    ...tagFaults(labels),
    ...chapterFaults(labels),
  ];
}

/** A tag of the container or of any track: wrappers keep timecode and reel in different places. */
function anywhere(header: ProbeHeader, name: string): string | null {
  const places = [header.format.tags, ...header.streams.map((stream) => stream.tags)];
  return places.map((tags) => tagOf(tags, name)).find((text) => text !== null) ?? null;
}

/** Numbers and places are rewritten by the wrappers in their own form; times are compared to the second. */
const rewritten: ReadonlySet<string> = new Set(['location', 'season_number', 'episode_sort']);

function tagFaults({ facts, format, header }: TextLabels): string[] {
  return Object.entries(facts.tags)
    .filter(([tag]) => carriesTag(format.wrapper, tag) && !rewritten.has(tag))
    .flatMap(([tag, due]) => {
      const found = tagOf(header.format.tags, tag);
      const same = tag === 'creation_time' ? found?.slice(0, 19) === due.slice(0, 19) : found === due.trim();
      return same ? [] : differs(`the tag ${tag}`, found, due);
    });
}

/** Wrappers keep chapters to the millisecond; in QuickTime and MP4 a chapter ends where the next one begins. */
const chapterTolerance = 0.0015;

function chapterFaults({ facts, format, header, start }: TextLabels): string[] {
  const due = fromStart(facts.chapters, format.wrapper);
  const found = header.chapters;
  if (due.length !== found.length)
    return differs('the number of chapters', String(found.length), String(due.length));
  return due.flatMap((chapter, i) => {
    const begins = Number(found[i]?.start_time ?? 0) - toNumber(start);
    const title = tagOf(found[i]?.tags ?? {}, 'title') ?? '';
    return [
      ...(Math.abs(begins - chapter.startSeconds) <= chapterTolerance
        ? []
        : [`chapter ${i + 1} begins at ${begins} s where ${chapter.startSeconds} s is due`]),
      ...differs(`the title of chapter ${i + 1}`, title, chapter.title.trim()),
    ];
  });
}
