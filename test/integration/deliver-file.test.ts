// The deliver task on a real file system: a name is absent, or complete and checked (N6).
import { link, mkdir, readdir, readFile, symlink, truncate, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { DeliverTask } from '#shared/task.ts';
import { requireSame } from '../../agent/tasks/deliver/write-part.ts';
import { deliverFile } from '../../agent/tasks/deliver-file.ts';
import { makeTaskWorld, type TaskWorld } from '../support/tasks/task-world.ts';

let world: TaskWorld;
let task: DeliverTask;
let bytes: Buffer;

beforeEach(async () => {
  world = await makeTaskWorld();
  // Longer than one chunk of copying, and not a whole number of them.
  bytes = Buffer.alloc(5_000_001, 'film');
  const file = path.join(world.root, 'made');
  await writeFile(file, bytes);
  task = {
    jobId: 'j0123abcd',
    attempt: 3,
    kind: 'deliver',
    joined: await world.keep(file, 'joined.mp4'),
    to: 'media:out/film.mp4',
    replace: false,
    report: null,
  };
});

afterEach(() => world[Symbol.asyncDispose]());

const run = (changes: Partial<DeliverTask> = {}) => deliverFile({ ...task, ...changes }, world.context);
const folder = () => path.join(world.volume, 'out');
const target = () => path.join(folder(), 'film.mp4');

/** Puts a file where the deliverable goes, before the task runs. */
async function putBefore(name: string, content: string | Buffer): Promise<void> {
  await mkdir(folder(), { recursive: true });
  await writeFile(path.join(folder(), name), content);
}

describe('a delivery', () => {
  it('puts the very bytes under the name and leaves nothing beside them', async () => {
    const result = await run();
    expect(await readFile(target())).toEqual(bytes);
    expect(await readdir(folder())).toEqual(['film.mp4']);
    expect(result).toMatchObject({ kind: 'deliver', ...task.joined, check: { name: 'bytes', ok: true } });
    expect(result.check.measured).toContain(task.joined.hash.hex);
  });

  it('writes the report beside the deliverable', async () => {
    await run({ report: '{"fine":true}' });
    expect(await readFile(`${target()}.report.json`, 'utf8')).toBe('{"fine":true}');
    expect((await readdir(folder())).toSorted()).toEqual(['film.mp4', 'film.mp4.report.json']);
  });

  it('takes a name as long as the file system does', async () => {
    const name = `${'é'.repeat(125)}.mp4`;
    await run({ to: `media:out/${name}` });
    expect(await readdir(folder())).toEqual([name]);
  });
});

describe('a name that is taken', () => {
  it('is refused, untouched', async () => {
    await putBefore('film.mp4', 'older film');
    await expect(run()).rejects.toMatchObject({ code: 'destination-exists' });
    expect(await readFile(target(), 'utf8')).toBe('older film');
    expect(await readdir(folder())).toEqual(['film.mp4']);
  });

  it('is refused when another file of the same size has it', async () => {
    await putBefore('film.mp4', Buffer.alloc(bytes.length, 'mlif'));
    await expect(run()).rejects.toMatchObject({ code: 'destination-exists' });
  });

  it('is replaced when the submission says so', async () => {
    await putBefore('film.mp4', 'older film');
    await run({ replace: true });
    expect(await readFile(target())).toEqual(bytes);
  });

  it('is never followed when it is a link: the link is replaced, the file behind it is not', async () => {
    await putBefore('original.mov', 'precious');
    await symlink('original.mov', target());
    await run({ replace: true });
    expect(await readFile(path.join(folder(), 'original.mov'), 'utf8')).toBe('precious');
    expect(await readFile(target())).toEqual(bytes);
  });

  it('is refused even to a replacing submission when it is a folder', async () => {
    await mkdir(target(), { recursive: true });
    await expect(run({ replace: true })).rejects.toMatchObject({ code: 'destination-exists' });
  });

  it('is refused when it appears at the last instant', async () => {
    world.onProgress = async () => {
      await writeFile(target(), 'just appeared');
      return { proceed: true, end: 0 };
    };
    await expect(run()).rejects.toMatchObject({ code: 'destination-exists' });
    expect(await readFile(target(), 'utf8')).toBe('just appeared');
    expect(await readdir(folder())).toEqual(['film.mp4']);
  });

  it('is refused for the report before a byte of the film is copied', async () => {
    await putBefore('film.mp4.report.json', 'not ours');
    await expect(run({ report: '{}' })).rejects.toMatchObject({ code: 'destination-exists' });
    expect(await readdir(folder())).toEqual(['film.mp4.report.json']);
  });
});

describe('after an attempt that died', () => {
  it('counts a complete deliverable as delivered', async () => {
    await putBefore('film.mp4', bytes);
    const result = await run();
    expect(result.check).toMatchObject({
      ok: true,
      note: 'the deliverable was already there, byte for byte',
    });
  });

  it('adds the missing report, and leaves one that is there', async () => {
    await putBefore('film.mp4', bytes);
    await run({ report: 'first' });
    await run({ report: 'second' });
    expect(await readFile(`${target()}.report.json`, 'utf8')).toBe('first');
  });

  it("removes that attempt's temporary files, and nobody else's", async () => {
    await putBefore('.film.mp4.nightmill-j0123abcd-a2.part', 'half');
    await putBefore('.film.mp4.nightmill-j0123abcd-a3.part', 'this attempt, started twice');
    await putBefore('.film.mp4.report.json.nightmill-j0123abcd-a1.part', 'half');
    await putBefore('.film.mp4.nightmill-j0123abcd-a4.part', 'a later attempt');
    await putBefore('.film.mp4.nightmill-j9999zzzz-a1.part', 'another job');
    await putBefore('.other.mp4.nightmill-j0123abcd-a1.part', 'another name');
    await run();
    expect((await readdir(folder())).toSorted()).toEqual([
      '.film.mp4.nightmill-j0123abcd-a4.part',
      '.film.mp4.nightmill-j9999zzzz-a1.part',
      '.other.mp4.nightmill-j0123abcd-a1.part',
      'film.mp4',
    ]);
  });

  it('knows its own link when the answer to it was lost', async () => {
    world.onProgress = async () => {
      await link(path.join(folder(), '.film.mp4.nightmill-j0123abcd-a3.part'), target());
      return { proceed: true, end: 0 };
    };
    await run();
    expect(await readFile(target())).toEqual(bytes);
    expect(await readdir(folder())).toEqual(['film.mp4']);
  });
});

describe('a delivery that cannot be', () => {
  it('is refused when the joined file is no longer the checked one', async () => {
    await writeFile(path.join(world.granary, 'joined.mp4'), Buffer.alloc(bytes.length, 'rot'));
    await expect(run()).rejects.toMatchObject({ code: 'delivery-failed' });
    expect(await readdir(folder())).toEqual([]);
  });

  it('is refused when the joined file is cut short', async () => {
    await truncate(path.join(world.granary, 'joined.mp4'), 4_000_000);
    await expect(run()).rejects.toMatchObject({ code: 'delivery-failed', details: { bytes: 4_000_000 } });
    expect(await readdir(folder())).toEqual([]);
  });

  it('is refused when the destination reads back other bytes than were written', async () => {
    const file = path.join(world.root, 'kept-badly');
    await writeFile(file, Buffer.from(bytes).fill(0, 1_234_567, 1_234_568));
    await expect(requireSame(file, task.joined.hash.hex)).rejects.toMatchObject({ code: 'delivery-failed' });
    await expect(
      requireSame(path.join(world.granary, 'joined.mp4'), task.joined.hash.hex),
    ).resolves.toBeUndefined();
  });

  it('is refused before it starts when there is no space', async () => {
    await expect(run({ joined: { ...task.joined, bytes: 2 ** 52 } })).rejects.toMatchObject({
      code: 'no-space',
    });
    expect(await readdir(folder())).toEqual([]);
  });

  it('is refused when the name is too long', async () => {
    const name = `${'n'.repeat(300)}.mp4`;
    await expect(run({ to: `media:out/${name}` })).rejects.toMatchObject({ code: 'destination-unwritable' });
  });

  it('publishes nothing when the attempt no longer counts', async () => {
    world.onProgress = () => ({ proceed: false, end: 0 });
    await expect(run()).rejects.toMatchObject({ code: 'stale-attempt' });
    expect(await readdir(folder())).toEqual([]);
  });

  it('leaves nothing behind when it is stopped', async () => {
    world.onProgress = () => {
      world.stop.abort();
      return { proceed: true, end: 0 };
    };
    await expect(run({ report: '{}' })).rejects.toThrow('aborted');
    expect(await readdir(folder())).toEqual([]);
  });
});
