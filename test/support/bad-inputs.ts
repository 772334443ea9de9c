// Writes files that a careless program trusts, reads past, hangs on or passes to a shell, with a note
// on what is wrong with each. All lie in one folder, so that a test can offer it as a volume.
import { copyFile, mkdir, readFile, stat, symlink, truncate, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { crc32, deflateSync } from 'node:zlib';
import { execa } from 'execa';
import { makeSource } from './sources/make-source.ts';

export type BadInput = {
  readonly name: string;
  readonly path: string;
  readonly what: string;
  /** Whether only the file's name or place is odd: its content is the whole film of 75 pictures. */
  readonly wholeFilm: boolean;
};

export type BadInputs = {
  /** Holds every input. */
  readonly volume: string;
  /** A film beside the volume, which nobody who reads inside the volume may reach. */
  readonly outsidePath: string;
  readonly inputs: readonly BadInput[];
};

type Spec = {
  readonly what: string;
  readonly fileName: string;
  readonly wholeFilm?: true;
  readonly write: (path: string, film: Film) => Promise<unknown>;
};

/** The film that most inputs are made from, and its twin outside the volume. */
type Film = { readonly path: string; readonly outsidePath: string };

/** 251 and 4 bytes: the longest name that common file systems take, with no room for a suffix. */
const longestName = `${'n'.repeat(251)}.mp4`;

const contentSpecs: Readonly<Record<string, Spec>> = {
  missing: { what: 'Nothing is there', fileName: 'missing.mp4', write: async () => undefined },
  directory: { what: 'A folder named like a film', fileName: 'folder.mp4', write: (path) => mkdir(path) },
  empty: { what: 'No bytes', fileName: 'empty.mp4', write: (path) => writeFile(path, '') },
  text: {
    what: 'A letter renamed to a film',
    fileName: 'letter.mp4',
    write: (path) => writeFile(path, 'Dear editor,\nplease find the film attached.\n'.repeat(40)),
  },
  playlist: {
    what: 'An HLS playlist renamed to a film; it names a film outside the volume',
    fileName: 'playlist.mp4',
    write: (path, film) => writeFile(path, hlsPlaylist(film.outsidePath)),
  },
  script: {
    what: 'A concat script renamed to a film; it names another film beside it',
    fileName: 'script.mkv',
    write: (path) => writeFile(path, `ffconcat version 1.0\nfile '${longestName}'\n`),
  },
  'truncated-faststart': {
    what: 'Half of an MP4 whose header comes first: the header still promises the whole length',
    fileName: 'truncated-faststart.mp4',
    write: (path, film) => halfOf(path, () => remux(film.path, path, ['-movflags', '+faststart'])),
  },
  'truncated-matroska': {
    what: 'Half of a Matroska file',
    fileName: 'truncated.mkv',
    write: (path, film) => halfOf(path, () => remux(film.path, path)),
  },
  'truncated-headerless': {
    what: 'Half of an MP4 whose header comes last: the header is missing',
    fileName: 'truncated-headerless.mp4',
    write: (path, film) => halfOf(path, () => copyFile(film.path, path)),
  },
  damaged: {
    what: 'Bytes changed amid the pictures; header, size and packet count are right',
    fileName: 'damaged.mp4',
    write: async (path, film) => writeFile(path, damage(await readFile(film.path))),
  },
  encrypted: {
    what: 'Common encryption with a key that nobody has',
    fileName: 'encrypted.mp4',
    write: (path, film) => remux(film.path, path, encryption),
  },
  'no-tracks': {
    what: 'An MP4 header that lists no track',
    fileName: 'no-tracks.mp4',
    write: (path, film) => remux(film.path, path, ['-frames:v', '0', '-an']),
  },
  'sound-only': {
    what: 'A sound track and no picture track',
    fileName: 'sound-only.mp4',
    write: (path, film) => remux(film.path, path, ['-vn']),
  },
  still: {
    what: 'A still picture of 2×2',
    fileName: 'still.png',
    write: (path) => writeFile(path, png(2, 2, deflateSync(Buffer.alloc(2 * 7)))),
  },
  'huge-still': {
    what: 'A PNG of 68 bytes that claims 30000×30000, 2.7 GB when decoded',
    fileName: 'huge.png',
    write: (path) => writeFile(path, png(30_000, 30_000, deflateSync(Buffer.alloc(9)))),
  },
};

const placeSpecs: Readonly<Record<string, Spec>> = {
  'link-outside': {
    what: 'A symbolic link that leads out of the volume',
    fileName: 'link.mp4',
    wholeFilm: true,
    write: (path, film) => symlink(film.outsidePath, path),
  },
  'link-dangling': {
    what: 'A symbolic link to nothing',
    fileName: 'dangling.mp4',
    write: (path) => symlink('nowhere.mp4', path),
  },
  pipe: {
    what: 'A named pipe, on which a reader waits for ever',
    fileName: 'pipe.mp4',
    write: (path) => execa('mkfifo', [path]),
  },
};

/** Whole films by the names that lead a careless program astray. */
const oddNames: Readonly<Record<string, readonly [fileName: string, what: string]>> = {
  'name-spaces': ['spaces in name.mp4', 'Blanks, where words are split'],
  'name-percent-encoded': ['spaces%20in%20name.mp4', 'What a decoder of addresses takes for blanks'],
  'name-quotes': [`it's a "quoted" \`name\`.mp4`, 'All kinds of quotes'],
  'name-newline': ['line\nbreak.mp4', 'A line break, where lists are split'],
  'name-unicode': ['Ταινία 日本語 🎬.mp4', 'Letters beyond ASCII'],
  'name-longest': [longestName, '255 bytes: no suffix can be added'],
  'name-dash': ['-vf.mp4', 'Looks like an option'],
  'name-protocol': ['concat:a|b.mp4', 'Looks like a protocol of FFmpeg'],
  'name-pattern': ['%03d.mp4', 'Looks like a number pattern'],
  'name-shell': ['$(touch caught);&.mp4', 'A command, if a shell sees it'],
};

/** Neither links, pipes nor most of the odd names exist on Windows. */
const windowsNames = ['name-spaces', 'name-percent-encoded', 'name-unicode', 'name-longest', 'name-dash'];

/** Writes them into `folder`, which must exist and be empty. Takes about a second. */
export async function makeBadInputs(folder: string): Promise<BadInputs> {
  const volume = join(folder, 'volume');
  const film = {
    path: (await makeSource('three-seconds-mp4')).path,
    outsidePath: join(folder, 'outside.mp4'),
  };
  await mkdir(volume);
  // A playlist is read without going back, so its film has the header first.
  await remux(film.path, film.outsidePath, ['-movflags', '+faststart']);
  const inputs = Object.entries(specsHere()).map(async ([name, spec]): Promise<BadInput> => {
    const path = join(volume, spec.fileName);
    await spec.write(path, film);
    return { name, path, what: spec.what, wholeFilm: spec.wholeFilm ?? false };
  });
  return { volume, outsidePath: film.outsidePath, inputs: await Promise.all(inputs) };
}

function specsHere(): Readonly<Record<string, Spec>> {
  const named = Object.entries(oddNames)
    .filter(([name]) => process.platform !== 'win32' || windowsNames.includes(name))
    .map(([name, [fileName, what]]): [string, Spec] => [
      name,
      { what, fileName, wholeFilm: true, write: copyOf },
    ]);
  const placed = process.platform === 'win32' ? {} : placeSpecs;
  return { ...contentSpecs, ...placed, ...Object.fromEntries(named) };
}

function copyOf(path: string, film: Film): Promise<void> {
  return copyFile(film.path, path);
}

async function remux(from: string, to: string, options: readonly string[] = []): Promise<void> {
  const args = ['-i', `file:${from}`, '-c', 'copy', ...options, `file:${to}`];
  await execa('ffmpeg', ['-nostdin', '-hide_banner', '-v', 'error', ...args], { timeout: 60_000 });
}

const encryption = [
  '-encryption_scheme',
  'cenc-aes-ctr',
  '-encryption_key',
  '76a6c65c5ea762046bd749a2e632ccbb',
  '-encryption_kid',
  'a7e61c373e219033c21091fa607bf3b8',
];

async function halfOf(path: string, write: () => Promise<void>): Promise<void> {
  await write();
  await truncate(path, Math.floor((await stat(path)).size / 2));
}

/** Turns over one byte in fifty, from 40 to 60 % of the file. */
function damage(film: Buffer): Buffer {
  const from = Math.floor(film.length * 0.4);
  const to = Math.floor(film.length * 0.6);
  return Buffer.from(
    film.map((byte, index) => (index >= from && index < to && index % 50 === 0 ? byte ^ 0xff : byte)),
  );
}

function hlsPlaylist(path: string): string {
  return `#EXTM3U\n#EXT-X-TARGETDURATION:4\n#EXTINF:3.0,\n${path}\n#EXT-X-ENDLIST\n`;
}

/** ISO/IEC 15948: 8-bit RGB, one chunk of data. */
function png(width: number, height: number, data: Buffer): Buffer {
  const header = Buffer.alloc(13);
  header.writeUInt32BE(width, 0);
  header.writeUInt32BE(height, 4);
  header.set([8, 2, 0, 0, 0], 8);
  const signature = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);
  return Buffer.concat([
    signature,
    chunk('IHDR', header),
    chunk('IDAT', data),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}

function chunk(type: string, data: Buffer): Buffer {
  const body = Buffer.concat([Buffer.from(type, 'latin1'), data]);
  const frame = Buffer.alloc(body.length + 8);
  frame.writeUInt32BE(data.length, 0);
  frame.set(body, 4);
  frame.writeUInt32BE(crc32(body), body.length + 4);
  return frame;
}
