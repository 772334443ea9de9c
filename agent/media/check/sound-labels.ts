// Part of the check `labels`: languages, titles and the default of the sound tracks.
import type { Wrapper } from '#shared/house-format.ts';
import type { Plan, SoundWay } from '#shared/plan.ts';
import type { ProbeHeader, ProbeStream } from '../facts/probe-report.ts';
import { tagOf } from '../facts/tags.ts';
import { carriedLanguage, sameLanguage } from '../wrapper-carries.ts';
import { differs } from './differs.ts';

type SoundLabels = {
  readonly plan: Pick<Plan, 'sound'>;
  readonly header: ProbeHeader;
  readonly format: { readonly wrapper: Wrapper };
};

export function soundLabelFaults({ plan, header, format }: SoundLabels): string[] {
  const tracks = header.streams.filter((stream) => stream.codec_type === 'audio');
  return plan.sound.flatMap((way, i) => {
    const track = tracks[i];
    const name = `sound track ${i + 1}`;
    // A missing track is told by the check of the layout.
    if (track === undefined) return [];
    return [
      ...languageFaults(name, { way, track, wrapper: format.wrapper }),
      ...(way.title === null ? [] : differs(`the title of ${name}`, titleOf(track), way.title)),
      ...defaultFaults(name, { way, track, plan, wrapper: format.wrapper }),
    ];
  });
}

type OneTrack = { readonly way: SoundWay; readonly track: ProbeStream; readonly wrapper: Wrapper };

function languageFaults(name: string, { way, track, wrapper }: OneTrack): string[] {
  const due = way.language === null ? null : carriedLanguage(wrapper, way.language);
  const found = tagOf(track.tags, 'language');
  return sameLanguage(found, due) ? [] : differs(`the language of ${name}`, found, due);
}

function titleOf(track: ProbeStream): string | null {
  return tagOf(track.tags, 'title') ?? tagOf(track.tags, 'handler_name');
}

/** QuickTime and MP4 need one enabled track of a kind: where no track is the default, the first one becomes it. */
function defaultFaults(
  name: string,
  { way, track, plan, wrapper }: OneTrack & { plan: Pick<Plan, 'sound'> },
): string[] {
  if (wrapper !== 'mkv' && !plan.sound.some((one) => one.isDefault)) return [];
  const say = (isDefault: boolean) => (isDefault ? 'default' : 'not default');
  return differs(name, say(track.disposition['default'] === 1), say(way.isDefault));
}
