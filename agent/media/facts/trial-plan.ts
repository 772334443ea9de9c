// Which trial cuts are made, how each compares, and what they prove. A keyframe flag is not a promise: only pictures
// that come out the same after a seek as in a decode from far before show that a source may be cut there.

import type { CutFacts } from '#shared/facts.ts';
import { multiply, type Rational, rational, subtract, toDecimal } from '#shared/rational.ts';
import type { KeyframeList } from './keyframe-list.ts';

/** Pictures that a trial compares at the least, where the source has them. */
export const trialPictures = 10;
/**
 * Keyframes before the wanted one at which decoding begins, in the order in which they are tried. Where a wrapper is
 * searched and has no index, or pictures lead a keyframe that may refer back across it, a cut at the keyframe itself may
 * work here and fail at another place or with another version of ffmpeg: then one keyframe earlier is the least.
 */
export function trialLeads({ keyframes, demuxer, leading }: TrialInput): readonly number[] {
  if (keyframes.allIntra) return [0];
  return searched.has(demuxer) || leading > 0 ? [1, 2, 3] : [0, 1, 2];
}

const searched = new Set(['mpegts', 'mpeg', 'flv', 'ogg', 'asf']);

/** How many keyframes before a trial's own its reference decode begins. */
const referenceLead = 5;

/** A cut to be tried: decode from `seekSeconds`, keep pictures from `startTicks` on, expect the pictures from `frame`. */
export type Trial = {
  readonly frame: number;
  readonly leadKeyframes: number;
  /** Null reads from the head. */
  readonly seekSeconds: string | null;
  /** Least timestamp that is kept: in the middle between the wanted picture and the one before. */
  readonly startTicks: number;
  /** Last trial of the source: decodes to the end of the file. */
  readonly toEnd: boolean;
};

export type TrialInput = {
  readonly keyframes: KeyframeList;
  /** Presentation order, ticks. */
  readonly pts: Float64Array;
  readonly timeBase: Rational;
  /** What `-ss` counts from. */
  readonly containerStart: Rational;
  readonly demuxer: string;
  /** Pictures that are stored after a keyframe and shown before it. */
  readonly leading: number;
};

/** Indexes into the keyframe list at which cuts are tried, rising; none when only the first keyframe can be reached. */
export function pickTrialKeyframes({ keyframes, pts }: TrialInput): number[] {
  const count = keyframes.length;
  let tail = count - 1;
  while (tail > 1 && pts.length - keyframes.at(tail).frame < trialPictures) tail -= 1;
  const places = keyframes.allIntra
    ? [Math.floor(tail / 2), tail]
    : [Math.floor(tail / 3), Math.floor((2 * tail) / 3), tail];
  return [...new Set(places)].filter((index) => index > 0);
}

/**
 * The trial at keyframe `index`, read as an encoder reads a segment: from `lead` keyframes earlier, or, where every
 * picture is a keyframe, from half a picture before the wanted one.
 */
export function trialAt(input: TrialInput, place: { index: number; lead: number; toEnd: boolean }): Trial {
  const { keyframes, pts } = input;
  const { frame, ticks } = keyframes.at(place.index);
  const startTicks = Math.floor(((pts[frame - 1] ?? ticks - 1) + ticks) / 2) + 1;
  const from = Math.max(0, place.index - place.lead);
  return {
    frame,
    leadKeyframes: place.lead,
    seekSeconds: secondsOf(input, keyframes.allIntra ? startTicks - 1 : keyframes.at(from).ticks),
    startTicks,
    toEnd: place.toEnd,
  };
}

/** The decode to compare with: the same pictures, from many keyframes earlier, or from the head (`seekSeconds` null). */
export function referenceFor(input: TrialInput, index: number): string | null {
  return index <= referenceLead ? null : secondsOf(input, input.keyframes.at(index - referenceLead).ticks);
}

/** What the trials of one lead after another proved. `tried`: all trials so far; the last lead's decide. */
export function cutVerdict(keyframes: KeyframeList, tried: CutFacts['trials']): CutFacts {
  const lead = tried.at(-1)?.leadKeyframes ?? 0;
  const last = tried.filter((trial) => trial.leadKeyframes === lead);
  if (keyframes.allIntra && tried.length === 0) {
    return { verdict: 'anywhere', leadKeyframes: 0, reason: 'there is nothing to cut', trials: [] };
  }
  if (tried.length === 0) {
    const reason =
      keyframes.length === 0
        ? 'no keyframe can be told by its time of presentation'
        : 'no keyframe follows the first picture';
    return { verdict: 'head-only', leadKeyframes: 0, reason, trials: [] };
  }
  if (last.some((trial) => !trial.same)) {
    const frame = last.find((trial) => !trial.same)?.frame ?? 0;
    const reason = `a decode from ${lead} keyframes before frame ${frame} gives other pictures than one from far before`;
    return { verdict: 'head-only', leadKeyframes: 0, reason, trials: [...tried] };
  }
  const places = `${last.length} trial cut${last.length === 1 ? '' : 's'}`;
  const from = lead === 0 ? '' : ` when decoding begins ${lead} keyframe${lead === 1 ? '' : 's'} earlier`;
  const kind = keyframes.allIntra ? 'every picture is a keyframe, and ' : '';
  return {
    verdict: keyframes.allIntra ? 'anywhere' : 'keyframes',
    leadKeyframes: lead,
    reason: `${kind}${places} gave the same pictures as a decode from far before${from}`,
    trials: [...tried],
  };
}

/** Seconds after the container's start, rounded up to a microsecond so that the keyframe itself is reached; null at its start. */
function secondsOf({ timeBase, containerStart }: TrialInput, ticks: number): string | null {
  const seconds = subtract(multiply(rational(ticks), timeBase), containerStart);
  return seconds.num <= 0 ? null : toDecimal(seconds, 6, 'ceil');
}

/** Pictures that all trials and their references decode together, when nothing has to be tried twice. */
export function picturesOfTrials(input: TrialInput): number {
  const { keyframes, pts } = input;
  const first = (index: number) => keyframes.at(Math.max(0, index)).frame;
  const places = pickTrialKeyframes(input);
  const tail = places.at(-1);
  const references = places.map(
    (index) => first(index) - (index <= referenceLead ? 0 : first(index - referenceLead)) + trialPictures,
  );
  const cuts = places.length * trialPictures + (tail === undefined ? 0 : pts.length - first(tail));
  return references.reduce((sum, pictures) => sum + pictures, cuts);
}
