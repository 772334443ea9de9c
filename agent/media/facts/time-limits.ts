// How long a step of the inspection may take before something must be wrong.

const dayMs = 86_400_000;
const startMs = 120_000;

/** For reading through a file: a slow share gives some 10 MB/s. */
export function readLimitMs(bytes: number): number {
  return Math.min(dayMs, startMs + Math.ceil(bytes / 10_000));
}

/** For decoding: no decoder of use is slower than one picture a second. */
export function decodeLimitMs(bytes: number, pictures: number): number {
  return Math.min(dayMs, readLimitMs(bytes) + pictures * 1_000);
}
