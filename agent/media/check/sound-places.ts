// Where in a sound track to listen, and how far the deliverable's sound stands from the source's there.
import { type Correlation, correlate, emphasise, level } from './correlate.ts';

/** Listening is done at this rate: lossy codecs rebuild what lies higher, and a sample is still only 0.083 ms. */
export const listeningRate = 12_000;
const pieceSeconds = 2;
const regionSeconds = 20;
/** Shifts up to this can be measured; a greater one looks like another sound. */
const reachSeconds = 0.25;
/** Below −70 dB of full scale (the absolute gate of EBU R 128) a piece counts as silent. */
const silence = 10 ** (-70 / 20);
const piecesTried = 5;

export const places = ['head', 'middle', 'tail'] as const;
export type Place = (typeof places)[number];

/** Samples `[first, end)` at the listening rate, counted from the first presented picture. */
export type Region = { readonly place: Place; readonly first: number; readonly end: number };

export type Heard =
  | { readonly place: Place; readonly kind: 'silent' }
  | { readonly place: Place; readonly kind: 'too-short' }
  | {
      readonly place: Place;
      readonly kind: 'clear' | 'periodic' | 'unlike';
      /** Positive: the deliverable's sound is late. */
      readonly offsetSeconds: number;
      readonly likeness: number;
    };

/** Head, middle and tail of a track presented from `startSeconds` (≥ 0) to `endSeconds`; thirds when it is short. */
export function listeningRegions(startSeconds: number, endSeconds: number): Region[] {
  const length = Math.max(0, Math.min(regionSeconds, (endSeconds - startSeconds) / 3));
  const starts = [startSeconds, (startSeconds + endSeconds - length) / 2, endSeconds - length];
  return places.map((place, i) => {
    const first = Math.round((starts[i] ?? 0) * listeningRate);
    return { place, first, end: first + Math.floor(length * listeningRate) };
  });
}

/** Compares one region, `source` and `deliverable` being the same span of time, one channel, at the listening rate. */
export function listen(place: Place, source: Float32Array, deliverable: Float32Array): Heard {
  const reach = Math.round(reachSeconds * listeningRate);
  const length = Math.min(pieceSeconds * listeningRate, Math.floor(source.length / 2));
  if (length < reach / 10) return { place, kind: 'too-short' };
  const starts = loudestPieces(source, length);
  if (starts.length === 0) return { place, kind: 'silent' };
  const reference = emphasise(source);
  const candidate = emphasise(deliverable);
  const found: Correlation[] = [];
  for (const start of starts) {
    const around = piece(candidate, start - reach, length + 2 * reach);
    const one = correlate(reference.subarray(start, start + length), around, {
      reach,
      apart: listeningRate / 1000,
    });
    if (one.likeness >= unlike && one.rivals.length === 0) return heardAt(place, 'clear', one);
    found.push(one);
  }
  return judge(place, found);
}

/** A sound that resembles less than this is another sound. */
const unlike = 0.25;

/** None of the pieces can be placed beyond doubt. */
function judge(place: Place, found: readonly Correlation[]): Heard {
  const periodic = found.find((one) => one.likeness >= unlike);
  if (periodic !== undefined) return heardAt(place, 'periodic', periodic);
  const [loudest] = found;
  return loudest === undefined ? { place, kind: 'silent' } : heardAt(place, 'unlike', loudest);
}

function heardAt(
  place: Place,
  kind: 'clear' | 'periodic' | 'unlike',
  { lag, rivals, likeness }: Correlation,
): Heard {
  // Among equally good lags of a periodic sound the smallest is the likeliest.
  const [nearest = lag] = rivals;
  const chosen = Math.abs(nearest) < Math.abs(lag) ? nearest : lag;
  return { place, kind, offsetSeconds: chosen / listeningRate, likeness };
}

/** Starts of the loudest pieces that aren't silent, loudest first, half a piece apart. */
function loudestPieces(samples: Float32Array, length: number): number[] {
  const pieces: { start: number; level: number }[] = [];
  for (let start = 0; start + length <= samples.length; start += Math.max(1, length >> 1)) {
    pieces.push({ start, level: level(samples.subarray(start, start + length)) });
  }
  return pieces
    .filter((one) => one.level > silence)
    .toSorted((a, b) => b.level - a.level)
    .slice(0, piecesTried)
    .map((one) => one.start);
}

/** `[first, first + length)` of the samples, zeros where there are none. */
function piece(samples: Float32Array, first: number, length: number): Float32Array {
  const result = new Float32Array(length);
  const from = Math.max(0, first);
  result.set(samples.subarray(from, Math.max(from, first + length)), from - first);
  return result;
}
