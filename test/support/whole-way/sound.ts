// The sound of a deliverable beside the source's: the same samples where that is promised, the same place in any case.
import { execa } from 'execa';
import type { ProbeFields } from '../probe.ts';
import { probeOnce } from './read-once.ts';

const timeoutMs = 60_000;
const guards = ['-nostdin', '-hide_banner', '-v', 'error'];

/** Hash of one track's decoded samples. As 64-bit floats, which hold whole numbers of 32 bits and floats without rounding. */
export async function hashSamples(path: string, track: number): Promise<string> {
  const args = ['-i', `file:${path}`, '-map', `0:a:${track}`, '-c:a', 'pcm_f64le', '-f', 'md5', 'pipe:1'];
  const { stdout } = await execa('ffmpeg', [...guards, ...args], { timeout: timeoutMs });
  return stdout.trim();
}

/** Samples per second at which sounds are compared in time. */
const listeningRate = 8_000;
/** The stretch that is compared: seconds after the first picture. */
const stretch = { from: 1, to: 2.5 };
const farthestSeconds = 0.1;

export type Placed = {
  readonly path: string;
  /** First sound relative to the first picture, seconds. */
  readonly startsSeconds: number;
};

/** Where the first sound track begins, after the decoder has dropped what the file says to skip. */
export async function placeSound(path: string): Promise<Placed> {
  const { streams, frames } = await probeOnce(path);
  const first = (kind: string) => {
    const track = streams.find((stream) => stream['codec_type'] === kind && !isCover(stream));
    const frame = frames.find((one) => one['stream_index'] === track?.['index']);
    // AVI knows no times of presentation; FFprobe then counts frames.
    return Number(frame?.['pts_time'] ?? frame?.['best_effort_timestamp_time']);
  };
  return { path, startsSeconds: first('audio') - first('video') };
}

function isCover(stream: ProbeFields): boolean {
  return (stream['disposition'] as ProbeFields | undefined)?.['attached_pic'] === 1;
}

/** How much later the deliverable's sound comes than the source's, seconds, by correlation of one stretch. */
export async function measureDelay(source: Placed, deliverable: Placed, track: number): Promise<number> {
  const margin = Math.round(farthestSeconds * listeningRate);
  const due = await readStretch(source, track, { from: stretch.from, to: stretch.to });
  const found = await readStretch(deliverable, track, {
    from: stretch.from - farthestSeconds,
    to: stretch.to + farthestSeconds,
  });
  const scores = Array.from({ length: 2 * margin + 1 }, (_, lag) => correlation(due, found, lag));
  return (scores.indexOf(Math.max(...scores)) - margin) / listeningRate;
}

/** All channels together, from the given times after the first picture. */
async function readStretch(
  { path, startsSeconds }: Placed,
  track: number,
  { from, to }: typeof stretch,
): Promise<Float32Array> {
  const args = ['-i', `file:${path}`, '-map', `0:a:${track}`, '-ac', '1', '-ar', String(listeningRate)];
  const { stdout } = await execa('ffmpeg', [...guards, ...args, '-f', 'f32le', 'pipe:1'], {
    encoding: 'buffer',
    timeout: timeoutMs,
    maxBuffer: 1e9,
  });
  const samples = new Float32Array(new Uint8Array(stdout).buffer);
  const at = (seconds: number) => Math.round((seconds - startsSeconds) * listeningRate);
  return samples.subarray(at(from), at(to));
}

function correlation(due: Float32Array, found: Float32Array, lag: number): number {
  return due.reduce((sum, sample, at) => sum + sample * (found[at + lag] ?? 0), 0);
}
