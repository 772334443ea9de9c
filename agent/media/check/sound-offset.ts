// The check `sound-offset` (N4): sound stands to the picture as in the source, heard and not only written.
import type { CheckResult } from '#shared/check.ts';
import { sayTracks } from './say-tracks.ts';
import type { Heard } from './sound-places.ts';
import { listed, verdict } from './verdict.ts';

/** EBU R 37 gives a production step 5 ms of early and 15 ms of late sound. */
const fineSeconds = 0.005;
const mostSeconds = 0.015;

export type TrackOffset = {
  /** Number of the sound track in the deliverable, from 1. */
  readonly track: number;
  readonly heard: readonly Heard[];
  /** Start in the deliverable less start in the source, both relative to the picture: used where nothing can be heard. */
  readonly startDifferenceSeconds: number;
};

export function checkSoundOffset(tracks: readonly TrackOffset[]): CheckResult {
  const limit = 'at most 5 ms, failing above 15 ms (EBU R 37), at head, middle and tail';
  if (tracks.length === 0)
    return verdict({ name: 'sound-offset', ok: true, measured: 'no sound track', limit });
  const judged = tracks.map(judgeTrack);
  return verdict({
    name: 'sound-offset',
    ok: judged.every((track) => track.ok),
    measured: listed(sayTracks(judged), '', 16),
    limit,
    notes: sayTracks(judged.flatMap(({ track, notes }) => notes.map((text) => ({ track, text })))),
  });
}

type Judged = {
  readonly track: number;
  readonly ok: boolean;
  readonly text: string;
  readonly notes: readonly string[];
};

function judgeTrack({ track, heard, startDifferenceSeconds }: TrackOffset): Judged {
  const placed = heard.flatMap((one) =>
    one.kind === 'clear' || one.kind === 'periodic' ? [one.offsetSeconds] : [],
  );
  const clear = heard.some((one) => one.kind === 'clear');
  // Nothing to hold on to: the timestamps have to do.
  const offsets = clear ? placed : [...placed, startDifferenceSeconds];
  const worst = Math.max(...offsets.map(Math.abs));
  const unlike = heard.some((one) => one.kind === 'unlike');
  return {
    track,
    ok: worst <= mostSeconds && !unlike,
    text: sayPlaces(heard),
    notes: [
      ...(clear || unlike
        ? []
        : [`no sound that can be placed; the start time is ${inMs(startDifferenceSeconds)} off`]),
      ...(worst > fineSeconds && worst <= mostSeconds ? ['more than 5 ms off'] : []),
    ],
  };
}

/** Head, middle and tail in one when they agree. */
function sayPlaces(heard: readonly Heard[]): string {
  const told = heard.map(sayHeard);
  const [first = ''] = told;
  return told.every((one) => one === first)
    ? first
    : heard.map((one, i) => `${told[i] ?? ''} at the ${one.place}`).join(', ');
}

function sayHeard(one: Heard): string {
  if (one.kind === 'silent') return 'silence';
  if (one.kind === 'too-short') return 'too little sound';
  if (one.kind === 'unlike') return `another sound (likeness ${one.likeness.toFixed(2)})`;
  return one.kind === 'periodic'
    ? `${inMs(one.offsetSeconds)} or a whole period more`
    : inMs(one.offsetSeconds);
}

/** `+0.1 ms`; positive: late. */
function inMs(seconds: number): string {
  const text = (seconds * 1000).toFixed(1);
  return text === '-0.0' || text === '0.0' ? '0.0 ms' : `${seconds > 0 ? '+' : ''}${text} ms`;
}
