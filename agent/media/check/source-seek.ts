// Where the check begins to read the source for a frame: further back than an encoder does, so that a flaw in the
// encoders' seeking can't hide itself.
import type { MediaFacts } from '#shared/facts.ts';
import type { Plan } from '#shared/plan.ts';
import { divide, multiply, rational, scaleInteger, subtract, toDecimal } from '#shared/rational.ts';

/** Keyframes more than the inspection found to be enough. */
const moreKeyframes = 2;
/** Pictures back from the wanted one where every picture is a keyframe: what filters with a memory need, and more. */
const leadFrames = 16;

export type SourceSeek = {
  /** Seconds from the container's start; null reads from the head. */
  readonly seconds: string | null;
  /** The frame of the grid at which reading begins, about. */
  readonly frame: number;
};

const head: SourceSeek = { seconds: null, frame: 0 };

export function checkSeek(
  facts: MediaFacts,
  plan: Pick<Plan, 'rate' | 'wholeBecause'>,
  frame: number,
): SourceSeek {
  const { picture, cuts } = facts;
  if (plan.wholeBecause !== null || cuts.verdict === 'head-only') return head;
  const ticksPerFrame = divide(rational(plan.rate.den, plan.rate.num), picture.timeBase);
  const wanted = picture.startTicks + scaleInteger(frame - leadFrames, ticksPerFrame, 'floor');
  const ticks = cuts.verdict === 'anywhere' ? wanted : keyframeTicks(facts, wanted);
  const start = rational(Math.round(facts.containerStartSeconds * 1e6), 1_000_000);
  const seconds = subtract(multiply(rational(ticks), picture.timeBase), start);
  if (seconds.num <= 0 || ticks <= picture.startTicks) return head;
  return {
    seconds: toDecimal(seconds, 6, 'ceil'),
    frame: scaleInteger(ticks - picture.startTicks, divide(rational(1), ticksPerFrame), 'floor'),
  };
}

function keyframeTicks({ picture, cuts }: MediaFacts, wanted: number): number {
  const before = picture.keyframes.findLastIndex((keyframe) => keyframe.ticks <= wanted);
  return picture.keyframes[before - cuts.leadKeyframes - moreKeyframes]?.ticks ?? picture.startTicks;
}
