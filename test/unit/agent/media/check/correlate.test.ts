// Finding where a piece of sound stands: the transform against its definition, the correlation against known shifts.
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { correlate, emphasise, level } from '../../../../../agent/media/check/correlate.ts';
import { inverse, powerOfTwo, transform } from '../../../../../agent/media/check/fourier.ts';

/** A fixed pseudo-random sequence (Park and Miller 1988). */
function noise(length: number, seed: number): Float32Array {
  let state = seed;
  return Float32Array.from({ length }, () => {
    state = (state * 48_271) % 2_147_483_647;
    return state / 2_147_483_647 - 0.5;
  });
}

describe('the Fourier transform', () => {
  it('is the sum that defines it', () => {
    const real = Float64Array.from(noise(16, 1));
    const imaginary = Float64Array.from(noise(16, 2));
    const due = Array.from({ length: 16 }, (_, k) => {
      const sum = { real: 0, imaginary: 0 };
      for (let n = 0; n < 16; n += 1) {
        const angle = (-2 * Math.PI * k * n) / 16;
        sum.real += (real[n] ?? 0) * Math.cos(angle) - (imaginary[n] ?? 0) * Math.sin(angle);
        sum.imaginary += (real[n] ?? 0) * Math.sin(angle) + (imaginary[n] ?? 0) * Math.cos(angle);
      }
      return sum;
    });
    transform(real, imaginary);
    for (const [k, sum] of due.entries()) {
      expect(real[k]).toBeCloseTo(sum.real, 10);
      expect(imaginary[k]).toBeCloseTo(sum.imaginary, 10);
    }
  });

  it('is undone by its inverse', () => {
    const real = Float64Array.from(noise(1024, 3));
    const imaginary = new Float64Array(1024);
    const before = real.slice();
    transform(real, imaginary);
    inverse(real, imaginary);
    expect(Math.max(...real.map((value, i) => Math.abs(value - (before[i] ?? 0))))).toBeLessThan(1e-12);
  });

  it('refuses lengths that are no power of two', () => {
    expect(() => transform(new Float64Array(12), new Float64Array(12))).toThrow(RangeError);
    expect([1, 2, 3, 1000].map(powerOfTwo)).toEqual([1, 2, 4, 1024]);
  });
});

describe('the correlation', () => {
  const reach = 300;
  const options = { reach, apart: 12 };

  it('finds any shift within reach, at any level', () => {
    const sound = noise(4000, 5);
    fc.assert(
      fc.property(
        fc.integer({ min: -reach, max: reach }),
        fc.double({ min: 0.01, max: 4, noNaN: true }),
        (shift, gain) => {
          const candidate = new Float32Array(sound.length + 2 * reach);
          candidate.set(
            sound.map((sample) => sample * gain),
            reach + shift,
          );
          const found = correlate(sound, candidate, options);
          expect(found.lag).toBe(shift);
          expect(found.likeness).toBeCloseTo(1, 4);
          expect(found.rivals).toEqual([]);
        },
      ),
      { numRuns: 20 },
    );
  });

  it('names the rivals of a periodic sound', () => {
    const tone = Float32Array.from({ length: 4000 + 2 * reach }, (_, i) => Math.sin((2 * Math.PI * i) / 100));
    const found = correlate(tone.subarray(reach, reach + 4000), tone, options);
    expect(found.likeness).toBeCloseTo(1, 4);
    expect([found.lag, ...found.rivals].toSorted((a, b) => a - b)).toEqual([
      -300, -200, -100, 0, 100, 200, 300,
    ]);
  });

  it('finds little in another sound and nothing in silence', () => {
    const sound = noise(4000, 5);
    expect(correlate(sound, noise(4000 + 2 * reach, 6), options).likeness).toBeLessThan(0.1);
    expect(correlate(sound, new Float32Array(4000 + 2 * reach), options).likeness).toBe(0);
  });

  it('weighs sound by its root mean square', () => {
    expect(level(Float32Array.from([0.5, -0.5, 0.5, -0.5]))).toBe(0.5);
    expect(level(new Float32Array())).toBe(0);
    expect(emphasise(Float32Array.from([1, 1, 1]))[2]).toBeCloseTo(0.1);
  });
});
