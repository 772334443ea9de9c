// Everything that is no film, or not a whole one, ends with its own clear error; an odd name is no reason for one.
import { appendFile, copyFile, mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type ErrorCode, MillError } from '#shared/errors.ts';
import { type BadInputs, makeBadInputs } from '../support/bad-inputs.ts';
import { makeSource, type SourceName } from '../support/sources/make-source.ts';
import { inspectFile } from '../support/tasks/inspect-file.ts';

let folder: string;
let bad: BadInputs;

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'nightmill-bad-'));
  const inputs = join(folder, 'inputs');
  await mkdir(inputs);
  bad = await makeBadInputs(inputs);
});
afterAll(() => rm(folder, { recursive: true, force: true }));

async function errorOf(path: string): Promise<MillError> {
  const result = await inspectFile(path).catch((error: unknown) => error);
  if (!(result instanceof MillError)) throw new Error(`${basename(path)} was not refused`, { cause: result });
  return result;
}

function inputPath(name: string): string {
  const input = bad.inputs.find((one) => one.name === name);
  if (!input) throw new Error(`no such input: ${name}`);
  return input.path;
}

describe('what is no whole film is refused, and said why', () => {
  it.each<[string, ErrorCode, RegExp]>([
    ['missing', 'source-missing', /not there/],
    ['directory', 'source-not-a-file', /not a regular file/],
    ['empty', 'source-empty', /0 bytes/],
    ['text', 'not-media', /text file/],
    ['playlist', 'not-media', /playlist/],
    ['script', 'not-media', /playlist/],
    ['truncated-faststart', 'source-truncated', /ends at byte \d+, the file at \d+/],
    ['truncated-matroska', 'source-truncated', /segment ends at byte/],
    ['truncated-headerless', 'source-truncated', /mdat box ends at byte/],
    ['encrypted', 'not-media', /is encrypted/],
    ['no-tracks', 'no-picture', /no picture track/],
    ['sound-only', 'no-picture', /only audio/],
    ['still', 'not-media', /PNG/],
    ['huge-still', 'not-media', /PNG/],
  ])('%s: %s', async (name, code, words) => {
    const error = await errorOf(inputPath(name));
    expect(error).toMatchObject({ code, message: expect.stringMatching(words) });
    // One sentence that names the file and says what to do.
    expect(error.message).toContain(basename(inputPath(name)));
    expect(error.message).toMatch(/; \w/);
    expect(error.message).not.toContain('0x');
  });

  it.runIf(process.platform !== 'win32').each<[string, ErrorCode]>([
    ['link-outside', 'outside-volume'],
    ['link-dangling', 'source-missing'],
    ['pipe', 'source-not-a-file'],
  ])('%s: %s', async (name, code) => {
    expect(await errorOf(inputPath(name))).toMatchObject({ code });
  });

  it.each<[SourceName, number, ErrorCode]>([
    ['prores-mov-tc-two-mono', 0.5, 'source-truncated'],
    ['dnxhr-mxf', 0.5, 'source-truncated'],
    ['mjpeg-avi', 0.5, 'source-truncated'],
    ['hevc-mkv-closed-gop', 0.9, 'source-truncated'],
    ['three-seconds-mp4', 0.999, 'source-truncated'],
  ])('%s cut at %d of its length: %s', async (name, part, code) => {
    const whole = await readFile((await makeSource(name)).path);
    const path = join(folder, `cut-${name}`);
    await writeFile(path, whole.subarray(0, Math.floor(whole.length * part)));
    expect(await errorOf(path)).toMatchObject({ code });
  });

  it('a picture track that promises more samples than are taken', async () => {
    const whole = await readFile((await makeSource('prores-mov-tc-two-mono')).path);
    const path = join(folder, 'huge.mov');
    await writeFile(path, withSize(whole, 'apcn apco apcs apch'.split(' '), 30_000));
    expect(await errorOf(path)).toMatchObject({
      code: 'too-large',
      message: expect.stringContaining('30000'),
    });
  });

  it('a film whose every picture is noise', async () => {
    const whole = await readFile((await makeSource('three-seconds-mp4')).path);
    const path = join(folder, 'noise.mp4');
    await writeFile(path, withNoise(whole));
    expect(await errorOf(path)).toMatchObject({
      code: 'source-damaged',
      message: expect.stringContaining('no picture'),
    });
  });

  it('a file that grows while it is looked at', async () => {
    const path = join(folder, 'growing.mp4');
    await copyFile((await makeSource('three-seconds-mp4')).path, path);
    const inspected = errorOf(path);
    let done = false;
    const grown = (async () => {
      while (!done) await appendFile(path, 'more');
    })();
    const error = await inspected.finally(() => {
      done = true;
    });
    await grown;
    expect(error).toMatchObject({
      code: 'source-changed',
      message: expect.stringContaining('changed while'),
    });
  });
});

describe('damage in the middle is a warning, for the format to decide about', () => {
  it('changed bytes', async () => {
    const facts = await inspectFile(inputPath('damaged'));
    expect(facts.warnings).toContainEqual(expect.stringMatching(/^damaged: /));
    expect(facts.picture.frames).toBeGreaterThan(0);
    expect(facts.picture.frames).toBeLessThanOrEqual(75);
  });

  it.each<[SourceName, number]>([
    ['mpeg2-ts-open-gop', 0.5],
    ['ffv1-mkv-odd-size', 0.5],
  ])('%s', async (name, place) => {
    const whole = await readFile((await makeSource(name)).path);
    const at = Math.floor(whole.length * place);
    whole.fill(0x55, at, at + 2000);
    const path = join(folder, `damaged-${name}`);
    await writeFile(path, whole);
    expect((await inspectFile(path)).warnings).toContainEqual(expect.stringMatching(/^damaged: /));
  });
});

describe('whole films are inspected whatever they are called', () => {
  it('each odd name', async () => {
    const films = bad.inputs.filter((input) => input.wholeFilm && input.name.startsWith('name-'));
    expect(films.length).toBeGreaterThan(4);
    for (const film of films) {
      const { picture, warnings } = await inspectFile(film.path);
      expect([film.name, picture.frames, warnings]).toEqual([film.name, 75, []]);
    }
  });
});

/** Width and height of the sample entries (ISO/IEC 14496-12, VisualSampleEntry) that have one of these types. */
function withSize(movie: Buffer, types: readonly string[], size: number): Buffer {
  const at = types.map((type) => movie.indexOf(type, 0, 'latin1')).find((index) => index >= 0) ?? 0;
  movie.writeUInt16BE(size, at + 28);
  movie.writeUInt16BE(size, at + 30);
  return movie;
}

/** Every byte of the media data changed; the boxes stay. */
function withNoise(movie: Buffer): Buffer {
  const at = movie.indexOf('mdat', 0, 'latin1');
  const end = at - 4 + movie.readUInt32BE(at - 4);
  return Buffer.from(
    movie.map((byte, index) => (index > at + 3 && index < end ? (byte * 7 + index * 13) & 0xff : byte)),
  );
}
