// More files that are no film for anybody to hand in, beside those that the inspection's own tests know.
import { stat, utimes, writeFile } from 'node:fs/promises';
import { execa } from 'execa';

export type BadFile = {
  readonly name: string;
  readonly make: (path: string) => Promise<void>;
  /** Code of the failure that ends the job. */
  readonly code: string;
};

export const badFiles: readonly BadFile[] = [
  { name: 'noise.mov', make: (path) => writeFile(path, scramble(100_000)), code: 'not-media' },
  { name: 'sound-and-cover.mp4', make: writeSoundAndCover, code: 'no-picture' },
  { name: 'no-exact-copy.avi', make: writePackedPixels, code: 'no-lane' },
];

/** Files that name other files; whoever follows them reads what nobody gave them. */
export const scripts: Readonly<Record<string, (film: string) => string>> = {
  'playlist.m3u8': (film) =>
    `#EXTM3U\n#EXT-X-TARGETDURATION:10\n#EXTINF:10.0,\nfile:${film}\n#EXT-X-ENDLIST\n`,
  'renamed-playlist.mp4': (film) =>
    `#EXTM3U\n#EXT-X-TARGETDURATION:10\n#EXTINF:10.0,\n${film}\n#EXT-X-ENDLIST\n`,
  'concat.mov': (film) => `ffconcat version 1.0\nfile '${film}'\n`,
  'concat-without-header.mkv': (film) => `file '${film}'\n`,
  'session.mp4': (film) => `v=0\no=- 0 0 IN IP4 127.0.0.1\ns=${film}\nm=video 5004 RTP/AVP 96\n`,
};

const longAgo = new Date('2001-01-01T00:00:00Z');

/** Makes it visible whether a file will have been read: its access time is set back. */
export async function setAccessBack(path: string): Promise<void> {
  await utimes(path, longAgo, (await stat(path)).mtime);
}

/** Whether it was read since. A system that keeps no access times always says no. */
export async function wasRead(path: string): Promise<boolean> {
  return (await stat(path)).atimeMs !== longAgo.getTime();
}

/** Names that a shell, an option parser, a protocol, a pattern or a list could take for something else. */
export const oddNames: readonly string[] = [
  'with  blanks and a dot before..mp4',
  'a\tab and a new\nline.mp4',
  'decomposed é beside é.mp4',
  '#{stem} {format} {stem}.mp4',
  '\\back\\slash.mp4',
  '.hidden.mp4',
  `${'é'.repeat(125)}.mp4`,
];

/** The cover is a picture, but no film. */
async function writeSoundAndCover(path: string): Promise<void> {
  const sound = ['-f', 'lavfi', '-i', 'sine=duration=2', '-c:a', 'aac'];
  const cover = ['-f', 'lavfi', '-i', 'testsrc=size=64x64:rate=1', '-frames:v', '1', '-c:v', 'mjpeg'];
  await ffmpeg([...sound.slice(0, 4), ...cover, ...sound.slice(4), '-disposition:v:0', 'attached_pic', path]);
}

/** 15-bit RGB: samples that FFV1 as FFmpeg writes it can't hold bit for bit. */
async function writePackedPixels(path: string): Promise<void> {
  const picture = ['-f', 'lavfi', '-i', 'testsrc=size=64x64:rate=25:duration=1'];
  await ffmpeg([...picture, '-c:v', 'rawvideo', '-pix_fmt', 'rgb555le', path]);
}

async function ffmpeg(args: readonly string[]): Promise<void> {
  await execa('ffmpeg', ['-nostdin', '-hide_banner', '-v', 'error', '-y', ...args], { timeout: 60_000 });
}

/** Bytes without a pattern, the same every time (a linear congruential generator; Numerical Recipes' constants). */
function scramble(length: number): Uint8Array {
  let state = 1;
  return Uint8Array.from({ length }, () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state >>> 24;
  });
}
