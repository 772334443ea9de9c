// Scores of likeness against ssim.js, which shares no code with FFmpeg, on the same pictures.
import path from 'node:path';
import { execa } from 'execa';
import { ssim } from 'ssim.js';
import { describe, expect, it } from 'vitest';
import { rational } from '#shared/rational.ts';
import { likenessArgs, parseSsimLine } from '../../agent/media/check/likeness-args.ts';
import { encodeTaskFor, formatNamed, planFile } from '../support/tasks/plan-source.ts';
import { makeTaskWorld } from '../support/tasks/task-world.ts';

const size = { width: 320, height: 180 };
const ffmpeg = (args: readonly string[]) =>
  execa('ffmpeg', ['-nostdin', '-loglevel', 'error', '-y', ...args], { timeout: 60_000 });

/** The luma of one picture as an image of ssim.js. */
async function picture(file: string, frame: number) {
  const select = `select=eq(n\\,${frame}),extractplanes=y`;
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

describe('likeness', () => {
  it.each([18, 34, 46])('at quality %i is what ssim.js measures', async (quality) => {
    await using world = await makeTaskWorld();
    const [source, deliverable] = [
      path.join(world.root, 'source.mp4'),
      path.join(world.root, 'deliverable.mp4'),
    ];
    // Without colour the two chroma planes are alike, so that the score of all planes tells that of the first.
    const drawn = [
      '-f',
      'lavfi',
      '-i',
      'testsrc2=size=320x180:rate=25,trim=end_frame=50,noise=alls=8:allf=t:all_seed=5,format=gray,format=yuv420p',
    ];
    await ffmpeg([...drawn, '-c:v', 'libx264', '-preset', 'veryfast', '-qp', '0', '-g', '10', source]);
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
    const { facts, plan, ...planned } = await planFile(world, source, formatNamed('review-copy'));
    const { track } = encodeTaskFor({ facts, plan, ...planned }, { first: 0, end: 25 });
    const frames = [10, 11, 30];
    const { stdout } = await execa(
      'ffmpeg',
      likenessArgs({
        source: { local: source, demuxer: facts.demuxer, seekSeconds: null },
        deliverable: { local: deliverable, demuxer: facts.demuxer, seekSeconds: null },
        ...{ track, way: plan.picture, rate: plan.rate, frames: plan.frames, start: rational(0) },
        spots: [
          { first: 10, end: 12 },
          { first: 30, end: 31 },
        ],
      }),
    );
    const scores = stdout.split('\n').flatMap((line) => parseSsimLine(line) ?? []);
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
});
