// Between frames of the grid and ticks of a track's clock, both ways, exactly.
import { divide, type Rational, rational, scaleInteger } from '#shared/rational.ts';

export type FrameClock = {
  /** Ticks at which `frame` is due, rounded to the nearest where the clock can't hold it. */
  readonly ticksOf: (frame: number) => number;
  /** The frame whose due time is nearest; may lie outside the film. */
  readonly frameAt: (ticks: number) => number;
  /** Every frame of the grid falls on a whole tick. */
  readonly holdsEveryFrame: boolean;
};

/** `rate` in frames/s, `timeBase` in seconds per tick; `start` is where frame 0 stands, in seconds. */
export function frameClock(grid: { rate: Rational; timeBase: Rational; start: Rational }): FrameClock {
  const step = divide(rational(grid.rate.den, grid.rate.num), grid.timeBase);
  const start = divide(grid.start, grid.timeBase);
  // Both over one denominator, so that one multiplication and one rounding decide.
  const perTick = step.den * start.den;
  const stepUnits = step.num * start.den;
  const startUnits = start.num * step.den;
  return {
    ticksOf: (frame) => scaleInteger(frame * stepUnits + startUnits, { num: 1, den: perTick }, 'nearest'),
    frameAt: (ticks) => scaleInteger(ticks * perTick - startUnits, { num: 1, den: stepUnits }, 'nearest'),
    holdsEveryFrame: step.den === 1 && start.den === 1,
  };
}
