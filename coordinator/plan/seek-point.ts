// Where an encoder process begins to read, so that it can decode its first frame rightly (the trim does the rest).
import type { MediaFacts } from '#shared/facts.ts';
import type { Plan } from '#shared/plan.ts';
import { divide, multiply, rational, scaleInteger, subtract, toDecimal } from '#shared/rational.ts';

/** Pictures that a deinterlacer looks back; eight is more than any here needs (bwdif: two). */
const deinterlaceLead = 8;

/** One keyframe earlier than needed, always: some wrappers seek late and some decoders start badly (measured). */
const leastLead = 1;

/** Seconds from the container's start, rounded up to a microsecond; null: read from the head. */
export function seekSeconds(facts: MediaFacts, plan: Plan, firstFrame: number): string | null {
  const ticks = seekTicks(facts, plan, firstFrame);
  if (ticks === null) return null;
  const { timeBase } = facts.picture;
  const start = rational(Math.round(facts.containerStartSeconds * 1e6), 1_000_000);
  const seconds = subtract(multiply(rational(ticks), timeBase), start);
  return seconds.num <= 0 ? null : toDecimal(seconds, 6, 'ceil');
}

function seekTicks(facts: MediaFacts, plan: Plan, firstFrame: number): number | null {
  if (plan.wholeBecause !== null || facts.cuts.verdict === 'head-only') return null;
  const earlier = (plan.picture.deinterlace === null ? 0 : deinterlaceLead) + (plan.picture.resample ? 2 : 0);
  const frame = firstFrame - earlier;
  if (frame <= 0) return null;
  const { picture, cuts } = facts;
  const at =
    cuts.verdict === 'keyframes' && !plan.picture.resample
      ? lastKeyframe(picture.keyframes, (key) => key.frame <= frame)
      : null;
  if (at !== null) return keyframeTicks(picture.keyframes, at - lead(cuts));
  // Half a frame early, so that no rounding can pass the picture that is wanted.
  const halfFrame = divide(divide(rational(1, 2), plan.rate), picture.timeBase);
  const wanted = picture.startTicks + scaleInteger(2 * frame - 1, halfFrame, 'floor');
  if (cuts.verdict === 'anywhere') return wanted;
  const before = lastKeyframe(picture.keyframes, (key) => key.ticks <= wanted);
  return keyframeTicks(picture.keyframes, before - lead(cuts));
}

function lead(cuts: MediaFacts['cuts']): number {
  return Math.max(leastLead, cuts.leadKeyframes);
}

type Keyframes = MediaFacts['picture']['keyframes'];

/** The first keyframe is the head: null. */
function keyframeTicks(keyframes: Keyframes, index: number): number | null {
  return index <= 0 ? null : (keyframes[index]?.ticks ?? null);
}

/** Index of the last keyframe that is `early` enough; −1 when none is. Keyframes stand in order of presentation. */
function lastKeyframe(keyframes: Keyframes, early: (keyframe: Keyframes[number]) => boolean): number {
  let low = 0;
  let high = keyframes.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    const keyframe = keyframes[middle];
    if (keyframe !== undefined && early(keyframe)) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}
