// Each check, made to fail once on purpose by the fault that it is there for. The editing proxy has one packet a
// picture, so that faults can be put into a copy without encoding.
import { truncate, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { CheckName, CheckResult } from '#shared/check.ts';
import { rational } from '#shared/rational.ts';
import type { CheckTask, GranaryFile } from '#shared/task.ts';
import { openJoined } from '../../agent/tasks/check/check-file.ts';
import { readLabels } from '../../agent/tasks/check/read-labels.ts';
import { checkJoined } from '../../agent/tasks/check-joined.ts';
import { joinGrains } from '../../agent/tasks/join-grains.ts';
import { type BadCopy, makeBadCopy } from '../support/tasks/bad-copies.ts';
import { type Film, makeFilm } from '../support/tasks/make-film.ts';
import { formatNamed } from '../support/tasks/plan-source.ts';
import { makeRichSource } from '../support/tasks/rich-source.ts';
import { makeTaskWorld, type TaskWorld } from '../support/tasks/task-world.ts';

let world: TaskWorld;
let film: Film;
let good: string;

beforeAll(async () => {
  world = await makeTaskWorld();
  film = await makeFilm(world, await makeRichSource(), formatNamed('edit-proxy'));
  const { file } = await joinGrains(film.joinTask, world.context);
  good = path.join(world.granary, file);
});
afterAll(() => world[Symbol.asyncDispose]());

async function check(joined: GranaryFile, change: Partial<CheckTask> = {}) {
  const { checks } = await checkJoined({ ...film.checkTask(joined), ...change }, world.context);
  return (name: CheckName): CheckResult => {
    const result = checks.find((one) => one.name === name);
    if (result === undefined) throw new Error(`no check ${name}`);
    return result;
  };
}

const checkBad = async (bad: BadCopy) => check(await makeBadCopy(world, good, bad));

describe('pictures', () => {
  it('one dropped: number, time', async () => {
    const of = await checkBad({ options: ['-bsf:v', 'noise=drop=eq(n\\,40)'] });
    expect(of('frame-count')).toMatchObject({ ok: false, measured: '119 pictures decoded' });
    expect(of('time')).toMatchObject({ ok: false, frames: [40] });
    expect(of('decodes').ok).toBe(true);
  });

  it('a tick late from one on: time alone', async () => {
    const of = await checkBad({ options: ['-bsf:v', 'setts=ts=if(gte(N\\,60)\\,TS+1\\,TS)'] });
    expect(of('time').ok).toBe(false);
    expect(of('time').frames).toEqual(Array.from({ length: 60 }, (_, i) => 60 + i));
    expect([of('frame-count').ok, of('likeness').ok]).toEqual([true, true]);
  });

  it('two grains exchanged: likeness, though number and time are right', async () => {
    const [a, b, c, d] = film.joinTask.grains;
    if (!a || !b || !c || !d) throw new Error('not four grains');
    const {
      kind: _,
      dropped: __,
      ...joined
    } = await joinGrains({ ...film.joinTask, grains: [a, c, b, d] }, world.context);
    const of = await check(joined);
    expect([of('frame-count').ok, of('time').ok]).toEqual([true, true]);
    expect(of('likeness').ok).toBe(false);
    expect(of('likeness').frames).toContain(60);
    await joinGrains(film.joinTask, world.context);
  });

  it('another picture at a seam than the grain before saw: seams', async () => {
    const task = film.checkTask(await world.keep(good, path.basename(good)));
    const grains = task.grains.map((grain) =>
      grain.first === 60 ? { ...grain, firstPicture: 'other' } : grain,
    );
    const of = await check(task.joined, { grains });
    expect(of('seams')).toMatchObject({ ok: false, frames: [60] });
  });
});

describe('sound', () => {
  const shifted = (seconds: string): BadCopy => ({ second: ['-itsoffset', seconds], maps: ['0:v:0', '1:a'] });

  it('30 ms late: offset', async () => {
    const of = await checkBad(shifted('0.03'));
    expect(of('sound-offset')).toMatchObject({ ok: false, measured: 'tracks 1, 2: +30.0 ms' });
  });

  it('10 ms late: allowed, with a note', async () => {
    const of = await checkBad(shifted('0.01'));
    expect(of('sound-offset')).toMatchObject({ ok: true, note: 'tracks 1, 2: more than 5 ms off' });
  });

  it('a decibel quieter: loudness', async () => {
    const of = await checkBad({ options: ['-af', 'volume=-1dB', '-c:a', 'pcm_s16le'] });
    expect(of('loudness')).toMatchObject({ ok: false, measured: expect.stringContaining('-1.00 LU') });
    expect(of('sound-length').measured).toContain("not the source's");
    expect(of('sound-offset').ok).toBe(true);
  });

  it('one track lost: layout', async () => {
    const of = await checkBad({ maps: ['0:v:0', '0:a:0'] });
    expect(of('sound-layout')).toMatchObject({
      ok: false,
      measured: expect.stringContaining('1 track where 2 are due'),
    });
  });

  it('two tracks exchanged: another sound', async () => {
    const of = await checkBad({ maps: ['0:v:0', '0:a:1', '0:a:0'] });
    expect(of('sound-offset').measured).toContain('another sound');
    expect(of('sound-layout').ok).toBe(false);
  });

  it('half a second short: length', async () => {
    const of = await checkBad({ options: ['-af', 'atrim=end=3.5', '-c:a', 'pcm_s16le'] });
    expect(of('sound-length')).toMatchObject({ ok: false, measured: expect.stringContaining('-24000') });
  });

  it('drifting by 40 ms over the film: the offset at its tail', async () => {
    const of = await checkBad({ options: ['-af', 'asetrate=48485,aresample=48000', '-c:a', 'pcm_s16le'] });
    expect(of('sound-offset').ok).toBe(false);
  });
});

describe('labels', () => {
  async function labelsOf(options: readonly string[]): Promise<CheckResult> {
    const task = film.checkTask(await makeBadCopy(world, good, { options }));
    const file = await openJoined(task, world.context);
    if ('unreadable' in file) throw new Error(file.unreadable);
    return readLabels(task, { file, start: rational(0), signal: world.context.signal });
  }

  it.each([
    [
      'timecode: the drop-frame flag',
      ['-timecode', '00:59:58:02'],
      'the timecode is 00:59:58:02 where 00:59:58;02 is due',
    ],
    [
      'language',
      ['-metadata:s:a:0', 'language=fra'],
      'the language of sound track 1 is fra where ger is due',
    ],
    [
      'default',
      ['-disposition:a:0', 'default', '-disposition:a:1', '0'],
      'sound track 1 is default where not default is due',
    ],
    ['chapters', ['-map_chapters', '-1'], 'the number of chapters is 0 where 2 is due'],
    [
      'title',
      ['-metadata', 'title=Another'],
      'the tag title is Another where Die Nacht; ein Film = Test is due',
    ],
    ['sample aspect', ['-aspect', '4:3'], 'the sample aspect is 3/4 where 1/1 is due'],
    ['turn', ['-metadata:s:v:0', 'rotate=90'], 'the turn is 270° where 0° is due'],
  ])('another %s', async (_, options, text) => {
    const labels = await labelsOf(options);
    expect(labels.ok).toBe(false);
    expect(labels.measured).toContain(text);
  });
});

describe('a file', () => {
  it('that is cut in half: number, and more', async () => {
    // The header stands first, so that the half opens and decodes without an error.
    const whole = await makeBadCopy(world, good, {});
    const file = path.join(world.granary, whole.file);
    await truncate(file, Math.floor(whole.bytes / 2));
    const of = await check(await world.keep(file, whole.file));
    expect(of('frame-count').ok).toBe(false);
  });

  it('that cannot be opened: everything', async () => {
    const file = path.join(world.granary, 'nothing.mov');
    await writeFile(file, 'not a film');
    const { checks } = await checkJoined(
      film.checkTask(await world.keep(file, 'nothing.mov')),
      world.context,
    );
    expect(checks.every((one) => !one.ok)).toBe(true);
    expect(checks).toHaveLength(11);
  });
});
