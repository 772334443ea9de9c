// Pictures of a deliverable beside those of the reference, by a structural similarity that shares no code with FFmpeg's.
// Each is also held against the reference's neighbours: whatever the quality, picture k must be most like picture k.
import { execa } from 'execa';
import { ssim } from 'ssim.js';

export type Side = {
  readonly path: string;
  /** From the decoder to pictures of the grid, as large as the deliverable's. */
  readonly filters: readonly string[];
};

export type Likeness = {
  readonly frame: number;
  /** Structural similarity (0–1) with the reference's picture of that number. */
  readonly score: number;
  /** The number of the picture around it that it is most like. */
  readonly mostLike: number;
};

export type Comparison = {
  readonly reference: Side;
  readonly deliverable: Side;
  /** Numbers of the pictures to compare. */
  readonly frames: readonly number[];
  readonly totalFrames: number;
  readonly width: number;
  readonly height: number;
};

/** Widest that is compared, and half the size at the most, since an encoder is free to smooth the noise of single pixels. */
const mostWidth = 320;
const timeoutMs = 120_000;

export async function compareLikeness(comparison: Comparison): Promise<Likeness[]> {
  const { frames, totalFrames } = comparison;
  const around = (frame: number) => [frame - 1, frame, frame + 1].filter((k) => k >= 0 && k < totalFrames);
  const size = comparedSize(comparison);
  const [ours, theirs] = await Promise.all([
    readLuma(comparison.deliverable, frames, size),
    readLuma(comparison.reference, frames.flatMap(around), size),
  ]);
  return frames.map((frame) => {
    const picture = pictureAt(ours, frame);
    const scores = around(frame).map((k) => ({ k, score: ssim(picture, pictureAt(theirs, k)).mssim }));
    const own = scores.find(({ k }) => k === frame) ?? { k: frame, score: 0 };
    // Where the reference holds a picture, its neighbour is the same and as much like it.
    const best = scores.reduce((a, b) => (b.score > a.score ? b : a), own);
    return { frame, score: own.score, mostLike: best.k };
  });
}

type Size = { readonly width: number; readonly height: number };
type Picture = Size & { readonly data: Uint8ClampedArray<ArrayBuffer>; readonly colorSpace: 'srgb' };

function comparedSize({ width, height }: Comparison): Size {
  const scale = Math.min(0.5, mostWidth / width);
  return { width: Math.round(width * scale), height: Math.round(height * scale) };
}

/** The brightness of some pictures, by their numbers. */
async function readLuma(side: Side, frames: readonly number[], size: Size): Promise<Map<number, Picture>> {
  const wanted = [...new Set(frames)].toSorted((a, b) => a - b);
  const chosen = `select='${wanted.map((frame) => `eq(n,${frame})`).join('+')}'`;
  const scaled = `scale=${size.width}:${size.height}:flags=area:out_range=tv`;
  const filters = [...side.filters, chosen, scaled, 'format=yuv444p', 'extractplanes=y'];
  const input = ['-nostdin', '-hide_banner', '-v', 'error', '-i', `file:${side.path}`, '-map', '0:v:0'];
  const output = ['-vf', filters.join(','), '-fps_mode', 'passthrough', '-f', 'rawvideo', 'pipe:1'];
  const { stdout } = await execa('ffmpeg', [...input, ...output], {
    encoding: 'buffer',
    timeout: timeoutMs,
    maxBuffer: 1e9,
  });
  const bytes = size.width * size.height;
  if (stdout.length !== bytes * wanted.length) {
    throw new Error(`${side.path}: ${stdout.length / bytes} pictures where ${wanted.length} were asked for`);
  }
  return new Map(
    wanted.map((frame, at) => [frame, toPicture(stdout.subarray(at * bytes, (at + 1) * bytes), size)]),
  );
}

function toPicture(luma: Uint8Array, size: Size): Picture {
  const data = new Uint8ClampedArray(luma.length * 4);
  for (const [at, value] of luma.entries()) data.fill(value, at * 4, at * 4 + 4);
  return { ...size, data, colorSpace: 'srgb' };
}

function pictureAt(pictures: ReadonlyMap<number, Picture>, frame: number): Picture {
  const picture = pictures.get(frame);
  if (picture === undefined) throw new Error(`picture ${frame} was not read`);
  return picture;
}
