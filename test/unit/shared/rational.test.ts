import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  add,
  compareRational,
  divide,
  multiply,
  parseRational,
  rational,
  scaleInteger,
  subtract,
  toDecimal,
} from '#shared/rational.ts';

const fraction = fc
  .tuple(fc.integer({ min: -1_000_000, max: 1_000_000 }), fc.integer({ min: 1, max: 1_000_000 }))
  .map(([num, den]) => rational(num, den));

describe('rational', () => {
  it('keeps fractions in lowest terms with a positive denominator', () => {
    expect(rational(48_000, 2002)).toEqual({ num: 24_000, den: 1001 });
    expect(rational(1, -2)).toEqual({ num: -1, den: 2 });
    expect(rational(0, -7)).toEqual({ num: 0, den: 1 });
  });

  it('refuses what is no fraction of safe integers', () => {
    expect(() => rational(1, 0)).toThrow(RangeError);
    expect(() => rational(0.5, 1)).toThrow(RangeError);
    expect(() => rational(2 ** 53, 1)).toThrow(RangeError);
  });

  it('reads what ffprobe writes and nothing else', () => {
    expect(parseRational('30000/1001')).toEqual({ num: 30_000, den: 1001 });
    expect(parseRational('4:3')).toEqual({ num: 4, den: 3 });
    expect(parseRational('25')).toEqual({ num: 25, den: 1 });
    expect(['0/0', '1/0', 'N/A', '', '1.5', '1/-2'].map(parseRational)).toEqual([
      null,
      null,
      null,
      null,
      null,
      null,
    ]);
  });

  it('undoes addition by subtraction and multiplication by division', () => {
    fc.assert(
      fc.property(fraction, fraction, (a, b) => {
        expect(subtract(add(a, b), b)).toEqual(a);
        if (b.num !== 0) expect(divide(multiply(a, b), b)).toEqual(a);
        expect(Math.sign(compareRational(a, b))).toBe(Math.sign(a.num * b.den - b.num * a.den));
      }),
    );
  });
});

describe('scaleInteger', () => {
  it('lands frame k of 24000/1001 on its tick of 1/90000 without drift', () => {
    const ticksPerFrame = divide(rational(90_000), rational(24_000, 1001));
    expect(scaleInteger(1, ticksPerFrame, 'nearest')).toBe(3754);
    expect(scaleInteger(24_000 * 3600, ticksPerFrame, 'nearest')).toBe(1001 * 3600 * 90_000);
  });

  it('rounds halves away from zero', () => {
    expect([-3, -1, 1, 3].map((n) => scaleInteger(n, rational(1, 2), 'nearest'))).toEqual([-2, -1, 1, 2]);
    expect([-3, 3].map((n) => scaleInteger(n, rational(1, 2), 'floor'))).toEqual([-2, 1]);
    expect([-3, 3].map((n) => scaleInteger(n, rational(1, 2), 'ceil'))).toEqual([-1, 2]);
  });

  it('lies within a half of the exact value', () => {
    fc.assert(
      fc.property(fc.integer({ min: -1_000_000, max: 1_000_000 }), fraction, (n, unit) => {
        const off = subtract(multiply(rational(n), unit), rational(scaleInteger(n, unit, 'nearest')));
        expect(Math.abs(off.num) * 2).toBeLessThanOrEqual(off.den);
      }),
    );
  });
});

describe('toDecimal', () => {
  it('writes as many places as asked, rounded as asked', () => {
    expect(toDecimal(rational(1001, 24_000), 6, 'nearest')).toBe('0.041708');
    expect(toDecimal(rational(1001, 24_000), 6, 'ceil')).toBe('0.041709');
    expect(toDecimal(rational(-1, 3), 3, 'nearest')).toBe('-0.333');
    expect(toDecimal(rational(5), 0, 'nearest')).toBe('5');
    expect(toDecimal(rational(-1, 2000), 3, 'floor')).toBe('-0.001');
  });
});
