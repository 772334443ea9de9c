// Where the check begins to read the source for a frame: further back than an encoder does, so that a flaw in the
// encoders' seeking can't hide itself.
import type { MediaFacts } from '#shared/facts.ts';
import type { Plan } from '#shared/plan.ts';
import { divide, multiply, rational, scaleInteger, subtract, toDecimal } from '#shared/rational.ts';

/** Keyframes more than the inspection found to be enough. */
const moreKeyframes = 2;
/** Pictures back from the wanted one where every picture is a keyframe: what filters with a memory need, and more. */
const leadFrames = 16;

/** Seconds from the container's start; null reads from the head. */
export function checkSeek(
  facts: MediaFacts,
  plan: Pick<Plan, 'rate' | 'wholeBecause'>,
  frame: number,
): string | null {
  const { picture, cuts } = facts;
  if (plan.wholeBecause !== null || cuts.verdict === 'head-only') return null;
  const ticksPerFrame = divide(rational(plan.rate.den, plan.rate.num), picture.timeBase);
  const wanted = picture.startTicks + scaleInteger(frame - leadFrames, ticksPerFrame, 'floor');
  const ticks = cuts.verdict === 'anywhere' ? wanted : keyframeTicks(facts, wanted);
  const start = rational(Math.round(facts.containerStartSeconds * 1e6), 1_000_000);
  const seconds = subtract(multiply(rational(ticks), picture.timeBase), start);
  return seconds.num <= 0 || ticks <= picture.startTicks ? null : toDecimal(seconds, 6, 'ceil');
}

function keyframeTicks({ picture, cuts }: MediaFacts, wanted: number): number {
  const before = picture.keyframes.findLastIndex((keyframe) => keyframe.ticks <= wanted);
  return picture.keyframes[before - cuts.leadKeyframes - moreKeyframes]?.ticks ?? picture.startTicks;
}
