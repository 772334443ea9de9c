// `once` as a user calls it: from a file to a checked deliverable, and what it leaves behind when that can't be.
import { copyFile, mkdir, readdir, readFile, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { execa } from 'execa';
import { expect, test } from 'vitest';
import { runProgram } from '../support/cli/run-program.ts';
import { makeSource } from '../support/sources/make-source.ts';
import { tempFolder } from '../support/temp-folder.ts';
import { waitUntil } from '../support/wait-until.ts';

/** Folders of one test: sources, destination, and the place where the program may keep temporary things. */
async function world() {
  const folder = await tempFolder();
  const [from, to, temporary] = ['from', 'to', 'temporary'].map((name) => join(folder, name)) as [
    string,
    string,
    string,
  ];
  for (const path of [from, to, temporary]) await mkdir(path);
  const put = async (name: string, source: Parameters<typeof makeSource>[0]) => {
    await copyFile((await makeSource(source)).path, join(from, name));
    return join(from, name);
  };
  const once = (...words: string[]) =>
    runProgram(['once', ...words, '--to', to, '--json'], { env: { TMPDIR: temporary }, cwd: from });
  return { from, to, temporary, put, once };
}

type Entry = {
  source: string;
  state: string;
  deliverable: string | null;
  frames: number;
  segments: { machine: string; framesDone: number }[];
  grains: number;
  checks: { name: string; ok: boolean }[];
  error: { code: string; message: string } | null;
};

function reportsOf({ stdout }: { stdout?: unknown }): Entry[] {
  return JSON.parse(String(stdout).split('\n').at(-1) ?? '') as Entry[];
}

async function countFrames(path: string): Promise<number> {
  const words = '-v error -select_streams v:0 -count_frames -show_entries stream=nb_read_frames -of csv=p=0';
  const { stdout } = await execa('ffprobe', [...words.split(' '), `file:${path}`]);
  return Number(stdout);
}

/** Processes of this user that have `text` on their command line. */
async function processesWith(text: string): Promise<string[]> {
  const { stdout } = await execa('ps', ['-eo', 'pid=,args=']);
  return stdout.split('\n').filter((line) => line.includes(text) && !line.includes(' ps '));
}

test('several sources of difficult names, shared by two agents, all delivered and nothing else left', async () => {
  const { to, temporary, put, once } = await world();
  const names = ['-two words "quoted" – 編集.mp4', `${'x'.repeat(251)}.mp4`];
  const sources = [await put(names[0] ?? '', 'rate-25'), await put(names[1] ?? '', 'three-seconds-mp4')];
  const ended = await once('--format', 'edit-proxy', '--agents', '2', ...sources);
  expect(ended).toMatchObject({ exitCode: 0 });
  const reports = reportsOf(ended);
  for (const [index, source] of sources.entries()) {
    const report = reports[index];
    const deliverable = join(to, (names[index] ?? '').replace('.mp4', '.mov'));
    expect(Object.keys(report ?? {}).toSorted()).toEqual([
      'checks',
      'deliverable',
      'error',
      'fallback',
      'frames',
      'grains',
      'segments',
      'source',
      'state',
    ]);
    expect(report).toMatchObject({ source, state: 'delivered', deliverable, fallback: 'none', error: null });
    expect(report?.checks.length).toBeGreaterThan(8);
    for (const check of report?.checks ?? []) {
      expect(Object.keys(check).toSorted()).toEqual(['limit', 'measured', 'name', 'ok']);
      expect(check).toMatchObject({ ok: true });
    }
    expect(report?.segments.reduce((sum, segment) => sum + segment.framesDone, 0)).toBe(report?.frames);
    expect(await countFrames(deliverable)).toBe(report?.frames);
  }
  expect((await readdir(to)).length).toBe(2);
  expect(await leftIn(temporary)).toEqual([]);
});

test('a file that is no film fails with a reason, the others are delivered all the same', async () => {
  const { from, to, put, once } = await world();
  await writeFile(join(from, 'text.mp4'), 'not a film\n'.repeat(100));
  const film = await put('film.mp4', 'three-seconds-mp4');
  const ended = await once('--format', 'review-copy', 'text.mp4', film);
  expect(ended).toMatchObject({ exitCode: 1 });
  expect(reportsOf(ended)).toMatchObject([
    { source: join(from, 'text.mp4'), state: 'failed', deliverable: null, error: { code: 'not-media' } },
    { source: film, state: 'delivered', deliverable: join(to, 'film.mp4') },
  ]);
  expect(await readdir(to)).toEqual(['film.mp4']);
});

test('a file that is there already is never replaced', async () => {
  const { to, put, once } = await world();
  await writeFile(join(to, 'film.mov'), 'somebody’s work');
  const ended = await once('--format', 'edit-proxy', await put('film.mp4', 'three-seconds-mp4'));
  expect(ended).toMatchObject({ exitCode: 2 });
  const [report] = reportsOf(ended);
  expect(report).toMatchObject({ state: 'failed', deliverable: null, error: { code: 'destination-exists' } });
  expect(report?.error?.message).toContain(join(to, 'film.mov'));
  expect(await readFile(join(to, 'film.mov'), 'utf8')).toBe('somebody’s work');
  expect(await readdir(to)).toEqual(['film.mov']);
});

test.skipIf(process.platform === 'win32')(
  'interrupted, it calls everything off and leaves nothing',
  async () => {
    const { to, temporary, put, once } = await world();
    const running = once('--format', 'storage-copy', await put('film.mp4', 'h264-mp4-1080'));
    let told = '';
    running.stderr?.on('data', (text: Buffer) => (told += text.toString()));
    await waitUntil('it encodes', () => told.includes('encoding'), 120_000);
    running.kill('SIGINT');
    const ended = await running;
    expect(ended).toMatchObject({ exitCode: 130, stdout: '' });
    expect(await readdir(to)).toEqual([]);
    expect(await leftIn(temporary)).toEqual([]);
    expect(await processesWith(temporary)).toEqual([]);
  },
);

test.skipIf(process.platform === 'win32')(
  'killed, its programs end too, and with the same data the work goes on',
  async () => {
    const { from, to, put, once } = await world();
    const data = join(from, 'data');
    const words = ['--format', 'storage-copy', '--data', data, await put('film.mp4', 'rate-25')];
    const first = once(...words);
    await waitUntil(
      'it encodes',
      async () =>
        (await readFile(join(data, 'coordinator.log'), 'utf8').catch(() => '')).includes('"encode"'),
      120_000,
    );
    first.kill('SIGKILL');
    await first;
    await waitUntil('its programs have ended', async () => (await processesWith(data)).length === 0, 30_000);
    const ended = await once(...words);
    expect(ended).toMatchObject({ exitCode: 0 });
    expect(reportsOf(ended)).toMatchObject([{ state: 'delivered', deliverable: join(to, 'film.mkv') }]);
    const opened = (await readFile(join(data, 'coordinator.log'), 'utf8'))
      .split('\n')
      .filter((line) => line.includes('"kind":"inspect"'));
    // The source was looked at once, by the call that was killed.
    expect(opened).toHaveLength(1);
    expect((await stat(join(data, 'ledger.sqlite'))).isFile()).toBe(true);
  },
);

test.skipIf(process.platform === 'win32')(
  'a machine that cannot encode the format says so instead of waiting',
  async () => {
    const { from, to, temporary, put } = await world();
    const { stdout: ffmpeg } = await execa('which', ['ffmpeg']);
    const tools = join(from, 'tools');
    await mkdir(tools);
    await writeFile(
      join(tools, 'ffmpeg'),
      `#!/bin/sh\ncase "$*" in *dnxhd*) exit 1;; esac\nexec ${ffmpeg} "$@"\n`,
      { mode: 0o755 },
    );
    const film = await put('film.mp4', 'three-seconds-mp4');
    // Nothing that was proven with the real ffmpeg may count here.
    const env = {
      PATH: `${tools}:${process.env['PATH']}`,
      XDG_CACHE_HOME: join(from, 'cache'),
      TMPDIR: temporary,
    };
    const ended = await runProgram(['once', film, '--format', 'edit-proxy', '--to', to], { env });
    expect(ended).toMatchObject({ exitCode: 1 });
    expect(ended.stderr).toContain(
      'nightmill: this machine cannot encode vc3, which edit-proxy needs (dnxhd: ',
    );
    expect(await readdir(to)).toEqual([]);
  },
);

test.skipIf(process.platform === 'win32')(
  'an agent that cannot start is told with its last words',
  async () => {
    const { from, temporary, put } = await world();
    const film = await put('film.mp4', 'three-seconds-mp4');
    const node = join(from, 'node');
    await mkdir(node);
    await writeFile(join(node, 'ffmpeg'), '#!/bin/sh\nexit 1\n', { mode: 0o755 });
    const env = {
      PATH: `${node}:${process.env['PATH']}`,
      XDG_CACHE_HOME: join(from, 'cache'),
      TMPDIR: temporary,
    };
    const ended = await runProgram(['once', film, '--format', 'edit-proxy', '--to', from], { env });
    expect(ended).toMatchObject({ exitCode: 1 });
    expect(ended.stderr).toMatch(/nightmill: agent-1 ended with code \d; its last words:\n.*ffmpeg/s);
    expect(await leftIn(temporary)).toEqual([]);
  },
);

/** Node keeps the code that it compiled there; that is its own affair. */
async function leftIn(temporary: string): Promise<string[]> {
  return (await readdir(temporary)).filter((name) => name !== 'node-compile-cache');
}
