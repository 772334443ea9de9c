// A small fast Fourier transform (Cooley and Tukey 1965, radix 2, in place), enough to correlate sound.

/** Transforms `real` and `imaginary` in place. Both have the same length, a power of two. */
export function transform(real: Float64Array, imaginary: Float64Array): void {
  const size = real.length;
  if (size !== imaginary.length || (size & (size - 1)) !== 0)
    throw new RangeError(`not a power of two: ${size}`);
  reorder(real, imaginary);
  for (let half = 1; half < size; half *= 2) {
    for (let k = 0; k < half; k += 1) {
      const cos = Math.cos((-Math.PI * k) / half);
      const sin = Math.sin((-Math.PI * k) / half);
      for (let low = k; low < size; low += 2 * half) {
        const high = low + half;
        const lowReal = at(real, low);
        const lowImaginary = at(imaginary, low);
        const turnedReal = at(real, high) * cos - at(imaginary, high) * sin;
        const turnedImaginary = at(real, high) * sin + at(imaginary, high) * cos;
        real[high] = lowReal - turnedReal;
        imaginary[high] = lowImaginary - turnedImaginary;
        real[low] = lowReal + turnedReal;
        imaginary[low] = lowImaginary + turnedImaginary;
      }
    }
  }
}

/** The inverse of `transform`, scaled, in place: exchanging the parts turns one direction into the other. */
export function inverse(real: Float64Array, imaginary: Float64Array): void {
  transform(imaginary, real);
  for (let i = 0; i < real.length; i += 1) {
    real[i] = at(real, i) / real.length;
    imaginary[i] = at(imaginary, i) / real.length;
  }
}

/** Smallest power of two ≥ `count`. */
export function powerOfTwo(count: number): number {
  return 2 ** Math.ceil(Math.log2(Math.max(1, count)));
}

function reorder(real: Float64Array, imaginary: Float64Array): void {
  const size = real.length;
  for (let i = 1, j = 0; i < size; i += 1) {
    let bit = size >> 1;
    for (; (j & bit) !== 0; bit >>= 1) j ^= bit;
    j ^= bit;
    if (i < j) {
      exchange(real, i, j);
      exchange(imaginary, i, j);
    }
  }
}

function exchange(values: Float64Array, i: number, j: number): void {
  const kept = at(values, i);
  values[i] = at(values, j);
  values[j] = kept;
}

function at(values: Float64Array, i: number): number {
  return values[i] ?? 0;
}
