// Exact rational arithmetic for rates and times. Floating-point seconds never decide which frame is meant;
// every product goes through bigint, so that no film is too long and no time base too fine.

/** A fraction in lowest terms. `den` > 0; both are safe integers. Rates are frames per second. */
export type Rational = { readonly num: number; readonly den: number };

/** Rounding of an exact value to an integer. `nearest` takes halves away from zero, as ffmpeg's rescaling does. */
export type Rounding = 'floor' | 'ceil' | 'nearest';

/** Makes a fraction in lowest terms. Throws RangeError when `den` is 0 or a part isn't a safe integer. */
export function rational(num: number, den = 1): Rational {
  if (!Number.isSafeInteger(num) || !Number.isSafeInteger(den) || den === 0) {
    throw new RangeError(`not a fraction of safe integers: ${num}/${den}`);
  }
  return reduce(BigInt(num), BigInt(den));
}

/** Reads `30000/1001`, `4:3` or `25`. Returns null for anything else, for a zero denominator and for `0/0`. */
export function parseRational(text: string): Rational | null {
  const match = /^(-?\d{1,15})(?:[/:](\d{1,15}))?$/.exec(text.trim());
  if (!match) return null;
  const den = match[2] === undefined ? 1 : Number(match[2]);
  return den === 0 ? null : rational(Number(match[1]), den);
}

/** `30000/1001`; whole numbers as `25/1`. */
export function formatRational(value: Rational): string {
  return `${value.num}/${value.den}`;
}

export function sameRational(a: Rational, b: Rational): boolean {
  return a.num === b.num && a.den === b.den;
}

export function multiply(a: Rational, b: Rational): Rational {
  return reduce(BigInt(a.num) * BigInt(b.num), BigInt(a.den) * BigInt(b.den));
}

/** a ÷ b. Throws RangeError when b is 0. */
export function divide(a: Rational, b: Rational): Rational {
  if (b.num === 0) throw new RangeError('division by zero');
  return reduce(BigInt(a.num) * BigInt(b.den), BigInt(a.den) * BigInt(b.num));
}

export function add(a: Rational, b: Rational): Rational {
  return reduce(BigInt(a.num) * BigInt(b.den) + BigInt(b.num) * BigInt(a.den), BigInt(a.den) * BigInt(b.den));
}

export function subtract(a: Rational, b: Rational): Rational {
  return add(a, { num: -b.num, den: b.den });
}

/** Negative when a < b, 0 when equal, positive when a > b. */
export function compareRational(a: Rational, b: Rational): number {
  const difference = BigInt(a.num) * BigInt(b.den) - BigInt(b.num) * BigInt(a.den);
  return difference < 0n ? -1 : difference > 0n ? 1 : 0;
}

/** For display and estimates only. */
export function toNumber(value: Rational): number {
  return value.num / value.den;
}

/** `count` × `unit`, rounded to an integer: ticks → other ticks, frames → ticks, ticks → frames. */
export function scaleInteger(count: number, unit: Rational, rounding: Rounding): number {
  return Number(roundFraction(BigInt(count) * BigInt(unit.num), BigInt(unit.den), rounding));
}

/** Decimal seconds with `digits` places, rounded as asked: the last moment before an argument list. */
export function toDecimal(value: Rational, digits: number, rounding: Rounding): string {
  const scale = 10n ** BigInt(digits);
  const scaled = roundFraction(BigInt(value.num) * scale, BigInt(value.den), rounding);
  const sign = scaled < 0n ? '-' : '';
  const text = (scaled < 0n ? -scaled : scaled).toString().padStart(digits + 1, '0');
  return digits === 0 ? sign + text : `${sign}${text.slice(0, -digits)}.${text.slice(-digits)}`;
}

function roundFraction(num: bigint, den: bigint, rounding: Rounding): bigint {
  const floor = num >= 0n ? num / den : -((-num + den - 1n) / den);
  const rest = num - floor * den;
  if (rest === 0n || rounding === 'floor') return floor;
  if (rounding === 'ceil') return floor + 1n;
  const twice = rest * 2n;
  if (twice === den) return num >= 0n ? floor + 1n : floor;
  return twice > den ? floor + 1n : floor;
}

function reduce(num: bigint, den: bigint): Rational {
  if (den < 0n) return reduce(-num, -den);
  const divisor = gcd(num < 0n ? -num : num, den);
  const result = { num: Number(num / divisor), den: Number(den / divisor) };
  if (!Number.isSafeInteger(result.num) || !Number.isSafeInteger(result.den)) {
    throw new RangeError(`fraction out of range: ${num}/${den}`);
  }
  return result;
}

function gcd(a: bigint, b: bigint): bigint {
  while (b !== 0n) [a, b] = [b, a % b];
  return a === 0n ? 1n : a;
}
