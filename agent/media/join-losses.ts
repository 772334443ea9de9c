// What a wrapper can't say of a film, one sentence each, for the report.

import type { SoundTrack } from '#shared/facts.ts';
import { toDecimal } from '#shared/rational.ts';
import type { JoinTask } from '#shared/task.ts';
import { pictureStart } from './picture-start.ts';
import { plannedSound } from './planned-sound.ts';
import {
  carriedLanguage,
  carriesReelName,
  carriesTag,
  namesChannels,
  wrapperNames,
} from './wrapper-carries.ts';

export function joinLosses({ facts, plan, format }: Pick<JoinTask, 'facts' | 'plan' | 'format'>): string[] {
  const { wrapper } = format;
  const name = wrapperNames[wrapper];
  const tags = Object.keys(facts.tags).filter((tag) => !carriesTag(wrapper, tag));
  const start = pictureStart({ wrapper, rate: plan.rate }, plannedSound({ plan, facts }));
  return [
    ...(tags.length > 0 ? [`${name} does not carry the tags ${tags.join(', ')}`] : []),
    ...(facts.reelName !== null && !carriesReelName(wrapper)
      ? [`${name} does not carry the reel name ${facts.reelName}`]
      : []),
    ...plan.sound.flatMap((way, i) =>
      way.language !== null && carriedLanguage(wrapper, way.language) === null
        ? [`${name} has no code for the language ${way.language} of sound track ${i + 1}`]
        : [],
    ),
    ...plannedSound({ plan, facts }).flatMap(({ way, track }, i) =>
      namesChannels(wrapper, way.encoder) || isAssumed(track)
        ? []
        : [`${name} does not say that the channels of sound track ${i + 1} are ${track.layout}`],
    ),
    ...(start.num > 0
      ? [
          `${name} cannot hide what comes before the picture (early sound, or what prepares its decoder), so the picture begins at ${toDecimal(start, 3, 'nearest')} s`,
        ]
      : []),
  ];
}

/** What players take a number of channels for when nobody tells. */
const assumedLayouts: Readonly<Record<number, string>> = { 1: 'mono', 2: 'stereo', 6: '5.1', 8: '7.1' };

function isAssumed({ layout, channels }: SoundTrack): boolean {
  return layout === null || layout === assumedLayouts[channels];
}
