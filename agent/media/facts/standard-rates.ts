// The picture rates of the trade. A measured rate is rounded to one of these where the timestamps allow it.
import { parseRational, type Rational } from '#shared/rational.ts';

/** Frames per second, rising. Film, PAL and NTSC families, their multiples for slow motion, and web-camera rates. */
export const standardRates: readonly Rational[] = (
  '5 6 8 10 12000/1001 12 25/2 15000/1001 15 16 18 20 24000/1001 24 25 30000/1001 30 ' +
  '48000/1001 48 50 60000/1001 60 72 75 90 96 100 120000/1001 120 144 150 200 240000/1001 ' +
  '240'
)
  .split(' ')
  .map((text) => parseRational(text) ?? { num: 25, den: 1 });

/** The standard rate with the smallest ratio to `rate`, up or down. */
export function nearestStandardRate(rate: number, among: readonly Rational[] = standardRates): Rational {
  const distance = (candidate: Rational) => Math.abs(Math.log(candidate.num / candidate.den / rate));
  return among.reduce((best, candidate) => (distance(candidate) < distance(best) ? candidate : best));
}
