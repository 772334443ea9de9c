// Finds how far a piece of sound stands from where it should: normalised cross-correlation over a range of lags.
import { inverse, powerOfTwo, transform } from './fourier.ts';

export type Correlation = {
  /** Samples by which the candidate is late; negative: early. */
  readonly lag: number;
  /** 1: the same sound up to its level; 0: nothing in common. */
  readonly likeness: number;
  /** Other lags that fit about as well: a periodic sound cannot be placed. Nearest to 0 first. */
  readonly rivals: readonly number[];
};

/** A rival reaches this share of the best likeness. */
const rivalShare = 0.97;

/**
 * Compares `reference` with every same-long piece of `candidate`, whose sample `reach + i` should fall on `reference[i]`;
 * `candidate` has `2 · reach` more samples. Rivals closer than `apart` samples to the best are the same peak.
 */
export function correlate(
  reference: Float32Array,
  candidate: Float32Array,
  { reach, apart }: { reach: number; apart: number },
): Correlation {
  const scores = normalisedScores(reference, candidate, 2 * reach + 1);
  let best = 0;
  for (let i = 1; i < scores.length; i += 1) if ((scores[i] ?? 0) > (scores[best] ?? 0)) best = i;
  const likeness = scores[best] ?? 0;
  const rivals: number[] = [];
  for (let i = 0; i < scores.length; i += 1) {
    if (Math.abs(i - best) >= apart && isPeak(scores, i) && (scores[i] ?? 0) >= rivalShare * likeness)
      rivals.push(i - reach);
  }
  return { lag: best - reach, likeness, rivals: rivals.toSorted((a, b) => Math.abs(a) - Math.abs(b)) };
}

/** Removes most of the long swing of music and speech, so that the correlation has a narrow peak. */
export function emphasise(samples: Float32Array): Float32Array {
  return samples.map((sample, i) => sample - 0.9 * (i === 0 ? 0 : (samples[i - 1] ?? 0)));
}

/** Root mean square, full scale 1. */
export function level(samples: Float32Array): number {
  let sum = 0;
  for (const sample of samples) sum += sample * sample;
  return samples.length === 0 ? 0 : Math.sqrt(sum / samples.length);
}

/** `scores[j]` = Σ reference[i]·candidate[i + j] over both pieces' root energies. */
function normalisedScores(reference: Float32Array, candidate: Float32Array, count: number): Float64Array {
  const products = slidingProducts(reference, candidate);
  const energy = level(reference) ** 2 * reference.length;
  const scores = new Float64Array(count);
  let pieceEnergy = level(candidate.subarray(0, reference.length)) ** 2 * reference.length;
  for (let j = 0; j < count; j += 1) {
    const norm = Math.sqrt(energy * pieceEnergy);
    scores[j] = norm > 1e-9 ? (products[j] ?? 0) / norm : 0;
    pieceEnergy += (candidate[j + reference.length] ?? 0) ** 2 - (candidate[j] ?? 0) ** 2;
  }
  return scores;
}

function slidingProducts(reference: Float32Array, candidate: Float32Array): Float64Array {
  // Only lags at which the reference lies within the candidate are used, so nothing wraps around.
  const size = powerOfTwo(candidate.length);
  const a = { real: padded(reference, size), imaginary: new Float64Array(size) };
  const b = { real: padded(candidate, size), imaginary: new Float64Array(size) };
  transform(a.real, a.imaginary);
  transform(b.real, b.imaginary);
  for (let i = 0; i < size; i += 1) {
    const [ar, ai, br, bi] = [a.real[i] ?? 0, a.imaginary[i] ?? 0, b.real[i] ?? 0, b.imaginary[i] ?? 0];
    b.real[i] = br * ar + bi * ai;
    b.imaginary[i] = bi * ar - br * ai;
  }
  inverse(b.real, b.imaginary);
  return b.real;
}

function padded(samples: Float32Array, size: number): Float64Array {
  const values = new Float64Array(size);
  values.set(samples);
  return values;
}

function isPeak(scores: Float64Array, i: number): boolean {
  const here = scores[i] ?? 0;
  return here >= (scores[i - 1] ?? -1) && here >= (scores[i + 1] ?? -1);
}
