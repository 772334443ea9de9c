// Scores of likeness against ssim.js, which shares no code with FFmpeg, on the same pictures.
import path from 'node:path';
import { execa } from 'execa';
import { ssim } from 'ssim.js';
import { describe, expect, it } from 'vitest';
import { rational } from '#shared/rational.ts';
import {
  deliverableSpotOutput,
  parseSsimLine,
  scoreArgs,
  sourceSpotArgs,
} from '../../agent/media/check/likeness-args.ts';
import { encodeTaskFor, formatNamed, planFile } from '../support/tasks/plan-source.ts';
import { makeTaskWorld } from '../support/tasks/task-world.ts';

/** Noise is averaged out before pictures are compared: of 320 × 180 samples two in each direction. */
const size = { width: 160, height: 90 };
const ffmpeg = (args: readonly string[]) =>
  execa('ffmpeg', ['-nostdin', '-loglevel', 'error', '-y', ...args], { timeout: 60_000 });

/** The luma of one picture as an image of ssim.js. */
async function picture(file: string, frame: number) {
  const select = `select=eq(n\\,${frame}),extractplanes=y,scale=w=${size.width}:h=${size.height}:flags=area`;
  const { stdout } = await execa(
    'ffmpeg',
    [
      '-nostdin',
      '-loglevel',
      'error',
      '-i',
      file,
      '-vf',
      select,
      '-frames:v',
      '1',
      '-f',
      'rawvideo',
      '-pix_fmt',
      'gray',
      'pipe:1',
    ],
    { encoding: 'buffer' },
  );
  const data = new Uint8ClampedArray(size.width * size.height * 4);
  for (const [i, value] of stdout.entries()) data.fill(value, 4 * i, 4 * i + 4);
  return { ...size, data };
}

/** Scores of the spots' pictures; source and deliverable are MP4 or QuickTime files. */
async function scoresOf(
  source: string,
  deliverable: string,
  spots: readonly { first: number; end: number }[],
) {
  await using world = await makeTaskWorld();
  const planned = await planFile(world, source, formatNamed('review-copy'));
  const { facts, plan } = planned;
  const { track } = encodeTaskFor(planned, { first: 0, end: 25 });
  const way = plan.picture;
  const [ours, theirs] = ['deliverable.yuv', 'source.yuv'].map((name) => path.join(world.root, name)) as [
    string,
    string,
  ];
  const at = { local: source, demuxer: facts.demuxer, seekSeconds: null };
  await execa(
    'ffmpeg',
    sourceSpotArgs(at, { track, way, rate: plan.rate, frames: plan.frames }, { spots, file: theirs }),
  );
  await ffmpeg([
    '-i',
    deliverable,
    ...deliverableSpotOutput({ way, rate: plan.rate }, rational(0), { spots, file: ours }),
  ]);
  const { stdout } = await execa('ffmpeg', scoreArgs(way, ours, theirs));
  return stdout.split('\n').flatMap((line) => parseSsimLine(line) ?? []);
}

describe('likeness', () => {
  it.each([18, 34, 46])('at quality %i is what ssim.js measures', async (quality) => {
    await using folder = await makeTaskWorld();
    const [source, deliverable] = ['source.mp4', 'deliverable.mp4'].map((name) =>
      path.join(folder.root, name),
    ) as [string, string];
    // Without colour the two chroma planes are alike, so that the score of all planes tells that of the first.
    const drawn =
      'testsrc2=size=320x180:rate=25,trim=end_frame=50,noise=alls=8:allf=t:all_seed=5,format=gray,format=yuv420p';
    await ffmpeg([
      '-f',
      'lavfi',
      '-i',
      drawn,
      '-c:v',
      'libx264',
      '-preset',
      'veryfast',
      '-qp',
      '0',
      '-g',
      '10',
      source,
    ]);
    await ffmpeg([
      '-i',
      source,
      '-c:v',
      'libx264',
      '-preset',
      'veryfast',
      '-crf',
      String(quality),
      '-g',
      '25',
      deliverable,
    ]);
    const frames = [10, 11, 30];
    const scores = await scoresOf(source, deliverable, [
      { first: 10, end: 12 },
      { first: 30, end: 31 },
    ]);
    expect(scores).toHaveLength(frames.length);
    for (const [i, frame] of frames.entries()) {
      // Chroma has half the samples of luma together: all = (4 · luma + 1 + 1) / 6.
      const luma = (6 * (scores[i] ?? 0) - 2) / 4;
      const images = [await picture(source, frame), await picture(deliverable, frame)] as const;
      const options = {
        ssim: 'bezkrovny',
        windowSize: 8,
        downsample: false,
        rgb2grayVersion: 'integer',
      } as const;
      // Both use windows of eight samples, but ffmpeg places them at every fourth and ssim.js at each its own.
      expect(Math.abs(luma - ssim(images[0], images[1], options).mssim)).toBeLessThan(0.03);
    }
  });

  it('forgives noise that an encoder smooths, and not another picture', async () => {
    await using folder = await makeTaskWorld();
    const [source, good, wrong] = ['source.mp4', 'good.mp4', 'wrong.mp4'].map((name) =>
      path.join(folder.root, name),
    ) as [string, string, string];
    const noisy =
      'mandelbrot=size=640x360:rate=25,noise=alls=25:allf=t:all_seed=2,trim=end_frame=25,format=yuv420p';
    const smooth = ['-c:v', 'libx265', '-preset', 'veryfast', '-crf', '26', '-x265-params', 'log-level=none'];
    await ffmpeg(['-f', 'lavfi', '-i', noisy, '-c:v', 'libx264', '-preset', 'ultrafast', '-qp', '0', source]);
    await ffmpeg(['-i', source, ...smooth, good]);
    await ffmpeg(['-i', source, '-vf', 'tpad=start=1:start_mode=clone,trim=end_frame=25', ...smooth, wrong]);
    const spots = [{ first: 12, end: 20 }];
    expect(Math.min(...(await scoresOf(source, good, spots)))).toBeGreaterThan(0.9);
    expect(Math.max(...(await scoresOf(source, wrong, spots)))).toBeLessThan(0.9);
  });
});
