// Proves that the bad inputs are as bad as they say, on a careless FFmpeg run: a guard that is tested
// with a harmless file guards nothing.
import { lstat, readdir, realpath } from 'node:fs/promises';
import { dirname } from 'node:path';
import { execa } from 'execa';
import { expect, it } from 'vitest';
import { type BadInputs, makeBadInputs } from '../support/bad-inputs.ts';
import { pictureHashes } from '../support/probe.ts';
import { makeSource } from '../support/sources/make-source.ts';
import { tempFolder } from '../support/temp-folder.ts';

/** What an unguarded run makes of a file: an error, or exit code 0 with a whole film or other pictures. */
type Outcome = 'refused' | 'whole film' | 'other pictures';

const outcomes: Readonly<Record<string, Outcome>> = {
  missing: 'refused',
  directory: 'refused',
  empty: 'refused',
  text: 'refused',
  playlist: 'whole film',
  script: 'whole film',
  'truncated-faststart': 'other pictures',
  'truncated-matroska': 'other pictures',
  'truncated-headerless': 'refused',
  damaged: 'other pictures',
  encrypted: 'refused',
  'sound-only': 'refused',
  'no-tracks': 'refused',
  still: 'other pictures',
};

it('holds the traps that it names', async () => {
  const { inputs, volume } = await makeBadInputs(await tempFolder());
  const names = Object.keys(outcomes);
  const found = await Promise.all(names.map((name) => runCarelessly(pathOf(inputs, name))));
  expect(Object.fromEntries(names.map((name, index) => [name, found[index]]))).toEqual(outcomes);
  expect(new Set(inputs.map(({ name }) => name)).size).toBe(inputs.length);
  expect(inputs.every(({ path }) => dirname(path) === volume)).toBe(true);
});

it('gives whole films odd names', async () => {
  const { inputs } = await makeBadInputs(await tempFolder());
  const due = await pictureHashes((await makeSource('three-seconds-mp4')).path);
  const whole = inputs.filter(({ wholeFilm }) => wholeFilm);
  expect(whole.length).toBeGreaterThanOrEqual(5);
  for (const { path } of whole) {
    expect(await pictureHashes(path)).toEqual(due);
  }
});

it('claims 900 million pixels in a file of less than 100 bytes', async () => {
  const { inputs } = await makeBadInputs(await tempFolder());
  const path = pathOf(inputs, 'huge-still');
  expect((await lstat(path)).size).toBeLessThan(100);
  const refused = pictureHashes(path);
  await expect(refused).rejects.toThrow(/30000x30000/);
});

it.skipIf(process.platform === 'win32')('leads outside, nowhere and into a pipe', async () => {
  const { inputs, outsidePath, volume } = await makeBadInputs(await tempFolder());
  expect(await realpath(pathOf(inputs, 'link-outside'))).toBe(outsidePath);
  await expect(realpath(pathOf(inputs, 'link-dangling'))).rejects.toThrow('ENOENT');
  expect((await lstat(pathOf(inputs, 'pipe'))).isFIFO()).toBe(true);
  expect((await readdir(volume)).some((name) => Buffer.byteLength(name) === 255)).toBe(true);
});

async function runCarelessly(path: string): Promise<Outcome> {
  const output = ['-map', '0:v:0', '-fps_mode', 'passthrough', '-f', 'framemd5', 'pipe:1'];
  const args = ['-nostdin', '-hide_banner', '-v', 'error', '-i', `file:${path}`, ...output];
  const { stdout, exitCode } = await execa('ffmpeg', args, { reject: false, timeout: 60_000 });
  if (exitCode !== 0) {
    return 'refused';
  }
  const due = await pictureHashes((await makeSource('three-seconds-mp4')).path);
  const found = stdout.split('\n').filter((line) => /^\d/.test(line));
  const whole = found.length === due.length && due.every((md5, index) => found[index]?.endsWith(md5));
  return whole ? 'whole film' : 'other pictures';
}

function pathOf(inputs: BadInputs['inputs'], wanted: string): string {
  const input = inputs.find(({ name }) => name === wanted);
  if (input === undefined) {
    throw new Error(`No bad input is called ${wanted}`);
  }
  return input.path;
}
