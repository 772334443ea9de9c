// Films whose packets don't tell their pictures, and what wrappers hide: edit lists, cut recordings, missing times.
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { execa } from 'execa';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { MediaFacts } from '#shared/facts.ts';
import { rational } from '#shared/rational.ts';
import { decodePictures } from '../support/probe.ts';
import { makeSource, type SourceName } from '../support/sources/make-source.ts';
import { realFootage } from '../support/sources/real-footage.ts';
import { inspectFile } from '../support/tasks/inspect-file.ts';

let folder: string;

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'nightmill-odd-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

/** Runs ffmpeg with `args` and a file in the test's folder as its output. */
async function make(name: string, args: readonly string[]): Promise<string> {
  const path = join(folder, name);
  await execa('ffmpeg', ['-nostdin', '-v', 'error', '-y', ...args, `file:${path}`], {
    timeout: 60_000,
    stdin: 'ignore',
  });
  return path;
}

/** Bytes `[from, to)` of a source, as parts of its length. */
async function part(source: SourceName, from: number, to: number): Promise<string> {
  const whole = await readFile((await makeSource(source)).path);
  const path = join(folder, `part-${source}`);
  await writeFile(path, whole.subarray(Math.floor(whole.length * from), Math.floor(whole.length * to)));
  return path;
}

/** Both ways of counting must give what a full decode by test code gives. */
async function expectDecoded(path: string): Promise<MediaFacts> {
  const facts = await inspectFile(path);
  expect(await inspectFile(path, { decodeShortWhole: false })).toEqual(facts);
  const pictures = await decodePictures(path, { stream: String(facts.picture.index) });
  expect(facts.picture).toMatchObject({
    frames: pictures.length,
    startTicks: pictures[0]?.ptsTicks,
    lastTicks: pictures.at(-1)?.ptsTicks,
  });
  return facts;
}

const pattern = (seconds: number, rate = '25') => [
  '-f',
  'lavfi',
  '-i',
  `testsrc2=s=160x96:r=${rate}:d=${seconds}`,
];
const tone = (seconds: number) => ['-f', 'lavfi', '-i', `sine=r=48000:d=${seconds}`];

describe('edit lists', () => {
  it('pictures before the cut of a copy are decoded and not counted', async () => {
    const { path } = await makeSource('h264-mp4-closed-gop');
    const cut = await make('edit.mp4', ['-ss', '1.3', '-i', path, '-c', 'copy']);
    const { picture, sound } = await expectDecoded(cut);
    expect(picture).toMatchObject({ constantRate: true, rate: rational(25), startTicks: 0 });
    expect(picture.keyframes[0]?.frame).toBeGreaterThan(0);
    expect(Math.abs(sound[0]?.startSeconds ?? 1)).toBeLessThan(0.03);
  });

  it.each([
    { trimmed: 'the picture alone', tracks: 1, label: '10:00:00:00' },
    { trimmed: 'the picture and its timecode', tracks: 4, label: '10:00:01:00' },
  ])('with $trimmed trimmed by 25 pictures the first label is $label', async ({ tracks, label }) => {
    const movie = await readFile((await makeSource('prores-mov-tc-two-mono')).path);
    const mediaTimes = editLists(movie);
    expect(mediaTimes).toHaveLength(4);
    // Picture and timecode count 12800 ticks a second, sound 48000.
    const second = [12_800, 48_000, 48_000, 12_800];
    for (const [track, at] of mediaTimes.slice(0, tracks).entries())
      movie.writeInt32BE(second[track] ?? 0, at);
    const path = join(folder, `trimmed-${tracks}.mov`);
    await writeFile(path, movie);
    const { picture, timecode } = await inspectFile(path);
    expect(picture.frames).toBe(225);
    expect(timecode?.text).toBe(label);
  });
});

describe('recordings that were cut anywhere', () => {
  it('MPEG-2: pictures whose references were cut off are left out with a warning', async () => {
    const facts = await expectDecoded(await part('mpeg2-ts-open-gop', 0.13, 1));
    expect(facts.picture).toMatchObject({ constantRate: true, rate: rational(25) });
    expect(facts.warnings).toContainEqual(expect.stringContaining('left out'));
  });

  it('H.265: what the decoder guesses before the first keyframe is left out too', async () => {
    const { path } = await makeSource('hevc-mp4-open-gop');
    const stream = await readFile(await make('whole.ts', ['-i', path, '-c', 'copy', '-an']));
    const cut = join(folder, 'cut.ts');
    await writeFile(cut, stream.subarray(188 * Math.floor((stream.length * 0.3) / 188)));
    const facts = await inspectFile(cut);
    expect(facts.picture).toMatchObject({ frames: 150, constantRate: true });
    expect(facts.picture.keyframes[0]).toEqual({ frame: 0, ticks: facts.picture.startTicks });
  });

  it('a live recording without a length and a program stream are counted as far as they go', async () => {
    const { path } = await makeSource('h264-mp4-closed-gop');
    const { stdout } = await execa(
      'ffmpeg',
      ['-v', 'error', '-i', path, '-c', 'copy', '-f', 'matroska', '-'],
      { encoding: 'buffer', stdin: 'ignore' },
    );
    const live = join(folder, 'live.mkv');
    await writeFile(live, stdout.subarray(0, Math.floor(stdout.length / 2)));
    expect((await expectDecoded(live)).picture.frames).toBeGreaterThan(100);
    const half = await inspectFile(await part('mpeg2-ps-interlaced', 0, 0.5));
    expect(half.picture.frames).toBeGreaterThan(50);
  });
});

describe('pictures without presentation times', () => {
  it('MPEG-4 with B pictures in AVI is decoded whole and read from the head', async () => {
    const facts = await expectDecoded(await make('asp.avi', [...pattern(4), '-c:v', 'mpeg4', '-bf', '2']));
    expect(facts.picture).toMatchObject({ frames: 100, constantRate: true, rate: rational(25) });
    expect(facts.cuts.verdict).toBe('head-only');
  });

  it('so is H.264 in AVI', async () => {
    const facts = await expectDecoded(
      await make('h264.avi', [...pattern(4), '-c:v', 'libx264', '-g', '12', '-bf', '2']),
    );
    expect(facts.cuts.verdict).toBe('head-only');
  });
});

describe('other wrappers and codecs', () => {
  it.each<[string, string[]]>([
    [
      'fragments.mp4',
      [...pattern(4), '-c:v', 'libx264', '-g', '25', '-movflags', 'frag_keyframe+empty_moov'],
    ],
    ['film.flv', [...pattern(4), ...tone(4), '-c:v', 'libx264', '-g', '25', '-c:a', 'aac']],
    ['film.wmv', [...pattern(4), ...tone(4), '-c:v', 'wmv2', '-c:a', 'wmav2']],
    ['film.ogv', [...pattern(4), ...tone(4), '-c:v', 'libtheora', '-c:a', 'libvorbis']],
    ['film.y4m', [...pattern(2), '-pix_fmt', 'yuv420p']],
    ['film.nut', [...pattern(4), ...tone(4), '-c:v', 'ffv1', '-c:a', 'pcm_s16le']],
    ['vp8.webm', [...pattern(4), '-c:v', 'libvpx', '-auto-alt-ref', '1', '-lag-in-frames', '16', '-g', '25']],
    ['mpeg1.mpg', [...pattern(4), ...tone(4), '-c:v', 'mpeg1video', '-c:a', 'mp2']],
    ['asp.mp4', [...pattern(4), '-c:v', 'mpeg4', '-bf', '2', '-g', '25']],
  ])('%s is counted as it decodes', async (name, args) => {
    const { picture } = await expectDecoded(await make(name, args));
    expect(picture).toMatchObject({ constantRate: true, rate: rational(25) });
  });

  it('DV tells its field order and shape', async () => {
    const source = ['-f', 'lavfi', '-i', 'testsrc2=s=720x576:r=25:d=1', ...tone(1), '-ac', '2'];
    const { picture, demuxer } = await expectDecoded(await make('film.dv', [...source, '-target', 'pal-dv']));
    expect(demuxer).toBe('dv');
    // SMPTE ST 314: 625-line DV has the bottom field first.
    expect(picture).toMatchObject({
      fieldOrder: 'bottom-first',
      sampleAspect: rational(16, 15),
      allIntra: true,
    });
  });
});

describe('what a wrapper carries beside the film', () => {
  it('tags, chapters and subtitles are found; the writer’s own tags are not kept', async () => {
    const chapters = join(folder, 'chapters.txt');
    await writeFile(
      chapters,
      ';FFMETADATA1\ntitle=Day 3\n[CHAPTER]\nTIMEBASE=1/1000\nSTART=0\nEND=1000\ntitle=Slate\n[CHAPTER]\nTIMEBASE=1/1000\nSTART=1000\nEND=4000\ntitle=Scene\n',
    );
    const words = join(folder, 'words.srt');
    await writeFile(words, '1\n00:00:00,500 --> 00:00:01,500\nHello\n');
    const inputs = [
      ...pattern(4),
      '-i',
      chapters,
      '-i',
      words,
      '-map',
      '0',
      '-map',
      '2',
      '-map_metadata',
      '1',
      '-map_chapters',
      '1',
    ];
    const facts = await inspectFile(await make('rich.mkv', [...inputs, '-c:v', 'libx264', '-c:s', 'srt']));
    expect(facts.tags).toEqual({ title: 'Day 3' });
    expect(facts.chapters).toEqual([
      { startSeconds: 0, endSeconds: 1, title: 'Slate' },
      { startSeconds: 1, endSeconds: 4, title: 'Scene' },
    ]);
    expect(facts.otherTracks).toMatchObject([{ kind: 'subtitle', codec: 'subrip' }]);
  });

  it('the reel of a timecode track', async () => {
    const { path } = await makeSource('prores-mov-tc-two-mono');
    expect(await inspectFile(path)).toMatchObject({
      reelName: 'A001R1',
      timecode: { from: 'timecode track' },
    });
  });

  it('a hole in the sound', async () => {
    const select = "aselect='not(between(t,1,1.5))'";
    const { sound } = await inspectFile(
      await make('hole.mkv', [
        ...pattern(4),
        ...tone(4),
        '-af',
        select,
        '-c:v',
        'mjpeg',
        '-c:a',
        'pcm_s16le',
      ]),
    );
    expect(sound).toMatchObject([{ gaps: true }]);
  });
});

describe('the same file', () => {
  it('has the same facts and fingerprint, another file has another', async () => {
    const [one, other] = await Promise.all([makeSource('rate-25'), makeSource('rate-50')]);
    const facts = await inspectFile(one.path);
    expect(await inspectFile(one.path)).toEqual(facts);
    expect((await inspectFile(other.path)).fingerprint).not.toEqual(facts.fingerprint);
  });
});

describe('real footage', () => {
  it('is inspected as it decodes, damage told', async () => {
    const footage = await realFootage();
    const street = await inspectFile(footage.street);
    expect(street.picture).toMatchObject({ frames: 795, constantRate: true, rate: rational(10) });
    const megamind = await inspectFile(footage.megamind);
    expect(megamind.picture).toMatchObject({ frames: 270, rate: rational(2997, 125) });
    expect((await inspectFile(footage.cup)).picture.rate).toEqual(rational(26_777, 1000));
    expect((await inspectFile(footage.box)).picture.frames).toBe(455);
  });

  it('a header that counts more pictures than are there does not decide', async () => {
    const { tree } = await realFootage();
    const result = await inspectFile(tree).catch((error: unknown) => error);
    expect(result).toMatchObject({ picture: { frames: 68 } });
  });
});

/** Offsets of `media_time` of the first entry of every version 0 edit list (ISO/IEC 14496-12, 8.6.6). */
function editLists(movie: Buffer): number[] {
  const found: number[] = [];
  for (let at = movie.indexOf('elst', 0, 'latin1'); at >= 0; at = movie.indexOf('elst', at + 4, 'latin1'))
    found.push(at + 16);
  return found;
}
