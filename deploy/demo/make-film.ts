// The film of the demo: a minute and a half of scenes that are hard and easy to encode, with cuts between them, as a
// camera or an edit might give it: H.264 with long groups of pictures and B-frames, a start timecode, two sound tracks.
import { mkdir, rename, stat } from 'node:fs/promises';
import { dirname } from 'node:path';
import { execa } from 'execa';

const size = '1280x720';
const rate = '24000/1001';
const startTimecode = '09:59:52:00';
const limitMs = 5 * 60_000;

type Scene = { readonly seconds: number; readonly pictures: string };

const at = `size=${size}:rate=${rate}`;
/** Small pictures made larger cost little to make. */
const small = `rate=${rate}:size=160x90`;

const scenes: readonly Scene[] = [
  { seconds: 8, pictures: `smptehdbars=${at}` },
  { seconds: 16, pictures: `testsrc2=${at}` },
  { seconds: 20, pictures: `cellauto=${small}:rule=110:seed=3,scale=${size}:flags=neighbor` },
  { seconds: 6, pictures: `pal75bars=${at},format=yuv420p,noise=alls=7:allf=t` },
  { seconds: 12, pictures: `sierpinski=rate=${rate}:size=640x360:seed=1,scale=${size}:flags=bilinear` },
  { seconds: 10, pictures: `smptehdbars=${at},negate` },
  { seconds: 12, pictures: `gradients=${small}:speed=0.02:nb_colors=6:seed=7,scale=${size}:flags=bicubic` },
  { seconds: 6, pictures: `testsrc2=${at},hue=h=t*40` },
];

const filmSeconds = scenes.reduce((sum, { seconds }) => sum + seconds, 0);

/** Sound that is different at every moment, so that its place beside the picture can be measured. */
const sounds = [
  {
    title: 'Voices',
    language: 'eng',
    samples:
      'anoisesrc=color=brown:amplitude=0.3:seed=1:sample_rate=48000,lowpass=f=2000,tremolo=f=0.7:d=0.8',
  },
  { title: 'Harbour', language: 'eng', samples: `aevalsrc=exprs=${sweeps()}:sample_rate=48000` },
];

/** Every three seconds a tone that rises, each from a higher pitch than the one before. */
function sweeps(): string {
  const phase = '(200+17*floor(t/3))*mod(t\\,3)+300*mod(t\\,3)*mod(t\\,3)';
  return `0.2*sin(2*PI*(${phase}))*lt(mod(t\\,3)\\,2.5)`;
}

/** Makes the film unless it is there already. Rejects when ffmpeg fails or `signal` fires. */
export async function makeFilm(file: string, signal: AbortSignal): Promise<void> {
  if ((await stat(file).catch(() => null)) !== null) return;
  await mkdir(dirname(file), { recursive: true });
  // A film that was only half written must not be taken for the film by the next run.
  const part = file.replace(/(\.\w+)$/, '.part$1');
  await execa('ffmpeg', filmArgs(part), { stdin: 'ignore', cancelSignal: signal, timeout: limitMs });
  await rename(part, file);
}

function filmArgs(file: string): string[] {
  return [
    ['-hide_banner', '-nostdin', '-loglevel', 'error', '-y', '-filter_complex', filmGraph()],
    ['-map', '[picture]', '-c:v', 'libx264', '-preset', 'ultrafast', '-crf', '23', '-bf', '2', '-g', '240'],
    ['-pix_fmt', 'yuv420p', '-colorspace', 'bt709', '-color_primaries', 'bt709', '-color_trc', 'bt709'],
    sounds.flatMap((_, track) => ['-map', `[sound${track}]`]),
    sounds.flatMap(({ title, language }, track) => [
      `-metadata:s:a:${track}`,
      `language=${language}`,
      `-metadata:s:a:${track}`,
      `handler_name=${title}`,
    ]),
    ['-c:a', 'pcm_s16le', '-timecode', startTimecode, '-movflags', '+write_colr', `file:${file}`],
  ].flat();
}

function filmGraph(): string {
  const pictures = scenes.map(
    ({ seconds, pictures: made }, scene) =>
      `${made},trim=duration=${seconds},format=yuv420p,setsar=1[scene${scene}]`,
  );
  const joined = `${scenes.map((_, scene) => `[scene${scene}]`).join('')}concat=n=${scenes.length}[picture]`;
  const tracks = sounds.map(
    ({ samples }, track) => `${samples},atrim=duration=${filmSeconds}[sound${track}]`,
  );
  return [...pictures, joined, ...tracks].join(';');
}
