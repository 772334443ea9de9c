// The measures of sound on signals whose results are published: EBU Tech 3341, minimum requirements test signals 1–6
// (levels and lengths from memory of the document; 1 kHz, peak level in dB of full scale, ±0.1 LU).
import path from 'node:path';
import { execa } from 'execa';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { runDecode } from '../../agent/tasks/check/run-decode.ts';
import { makeTaskWorld, type TaskWorld } from '../support/tasks/task-world.ts';

let world: TaskWorld;
beforeAll(async () => {
  world = await makeTaskWorld();
});
afterAll(() => world[Symbol.asyncDispose]());

type Part = { readonly decibels: readonly number[]; readonly seconds: number };

/** A tone of 1 kHz whose channels have these levels, part after part. */
async function makeTone(parts: readonly Part[], layout: string): Promise<string> {
  const file = path.join(world.root, 'tone.wav');
  const tone = ({ decibels, seconds }: Part, i: number) => {
    const channels = decibels.map((level) => `${10 ** (level / 20)}*sin(2*PI*1000*t)`).join('|');
    return `aevalsrc=exprs='${channels}':channel_layout=${layout}:sample_rate=48000:duration=${seconds}[p${i}]`;
  };
  const joined = `${parts.map((_, i) => `[p${i}]`).join('')}concat=n=${parts.length}:v=0:a=1`;
  const graph = [...parts.map(tone), joined].join(';');
  await execa(
    'ffmpeg',
    ['-nostdin', '-loglevel', 'error', '-y', '-filter_complex', graph, '-c:a', 'pcm_s24le', file],
    { timeout: 60_000 },
  );
  return file;
}

async function measure(local: string, channels: number) {
  const { sound, ok } = await runDecode(
    {
      ...{
        local,
        demuxer: 'wav',
        strict: true,
        picture: null,
        sampleEncoders: ['pcm_s32le'],
        pictureStart: '0',
      },
      sound: [{ input: '0:a:0', channels, fillGaps: false, fromSeconds: null, regions: [] }],
      heardFile: () => path.join(world.context.scratch, 'unused'),
    },
    { signal: world.context.signal, timeoutMs: 60_000 },
  );
  expect(ok).toBe(true);
  return sound[0];
}

const both = (level: number, seconds: number): Part => ({ decibels: [level, level], seconds });

describe('integrated loudness', () => {
  it.each<{ signal: number; parts: readonly Part[]; layout: string; due: number }>([
    { signal: 1, parts: [both(-23, 20)], layout: 'stereo', due: -23 },
    { signal: 2, parts: [both(-33, 20)], layout: 'stereo', due: -33 },
    { signal: 3, parts: [both(-36, 10), both(-23, 60), both(-36, 10)], layout: 'stereo', due: -23 },
    {
      signal: 4,
      parts: [both(-72, 10), both(-36, 10), both(-23, 60), both(-36, 10), both(-72, 10)],
      layout: 'stereo',
      due: -23,
    },
    { signal: 5, parts: [both(-26, 20), both(-20, 20.1), both(-26, 20)], layout: 'stereo', due: -23 },
    { signal: 6, parts: [{ decibels: [-28, -28, -24, -30, -30], seconds: 20 }], layout: '5.0', due: -23 },
  ])('of signal $signal is as published', async ({ parts, layout, due }) => {
    const channels = parts[0]?.decibels.length ?? 0;
    const result = await measure(await makeTone(parts, layout), channels);
    expect(Math.abs((result?.loudness ?? 0) - due)).toBeLessThanOrEqual(0.1);
    expect(result?.samples).toBe(Math.round(48_000 * parts.reduce((sum, part) => sum + part.seconds, 0)));
  });

  it('is nothing in silence, and in less than one block of 400 ms (ITU-R BS.1770)', async () => {
    expect((await measure(await makeTone([both(-120, 2)], 'stereo'), 2))?.loudness).toBeNull();
    expect((await measure(await makeTone([both(-20, 0.3)], 'stereo'), 2))?.loudness).toBeNull();
  });
});
