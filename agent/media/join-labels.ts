// What a film says of itself, restated at the join: a copy of the streams would lose it, and the grains never knew it.
import type { Colour } from '#shared/facts.ts';
import type { PictureCodec, Wrapper } from '#shared/house-format.ts';
import type { JoinTask } from '#shared/task.ts';
import { carriedLanguage, carriesReelName } from './wrapper-carries.ts';

export function pictureLabels({ format, plan, facts }: JoinTask): string[] {
  const { codec } = format.picture;
  const reel =
    facts.reelName !== null && carriesReelName(format.wrapper)
      ? ['-metadata:s:v:0', `reel_name=${facts.reelName}`]
      : [];
  return [
    ...['-disposition:v:0', 'default', ...reel],
    ...(codec === 'h265' && format.wrapper !== 'mkv' ? ['-tag:v', 'hvc1'] : []),
    ...(saysNothing.has(codec) ? colourLabels(plan.picture.colour) : []),
  ];
}

/** Codecs whose stream has no labels, or not all; a grain's own wrapper keeps some of them only in full company. */
const saysNothing: ReadonlySet<PictureCodec> = new Set(['vc3', 'prores', 'ffv1']);

function colourLabels({ primaries, transfer, matrix, range, chromaLocation }: Colour): string[] {
  return [
    ...label('-color_primaries', primaries),
    ...label('-color_trc', transfer),
    ...label('-colorspace', matrix),
    ...label('-color_range', range),
    ...label('-chroma_sample_location', chromaLocation),
  ];
}

function label(option: string, value: string | null): string[] {
  return value === null ? [] : [option, value];
}

export function soundLabels({ format, plan }: JoinTask): string[] {
  return plan.sound.flatMap((way, i) => {
    const language = way.language === null ? null : carriedLanguage(format.wrapper, way.language);
    return [
      ...[`-disposition:a:${i}`, way.isDefault ? 'default' : '0'],
      ...(language === null ? [] : [`-metadata:s:a:${i}`, `language=${language}`]),
      ...(way.title === null ? [] : titleLabels(format.wrapper, `-metadata:s:a:${i}`, way.title)),
    ];
  });
}

/** QuickTime and MP4 players show a track's handler name; its `name` atom is read by few. */
function titleLabels(wrapper: Wrapper, option: string, title: string): string[] {
  return [option, `title=${title}`, ...(wrapper === 'mkv' ? [] : [option, `handler_name=${title}`])];
}

export function timecodeLabel({ format, plan }: JoinTask): string[] {
  if (plan.timecode === null) return [];
  return format.wrapper === 'mkv' ? ['-metadata', `timecode=${plan.timecode}`] : ['-timecode', plan.timecode];
}
