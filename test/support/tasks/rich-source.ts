// A source that has something to lose of everything: timecode with drop frame, reel, two sound tracks of unlike start,
// language and title, chapters, tags, colour labels. Four seconds at 30000/1001, so that borders fall between milliseconds.
import { mkdir, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { execa } from 'execa';
import { makeFileOnce } from '../sources/make-file-once.ts';

export const richFrames = 120;

const texts = [
  ';FFMETADATA1',
  'title=Die Nacht; ein Film = Test',
  'artist=Anna',
  'director=Ben',
  'creation_time=2024-05-06T07:08:09.000000Z',
  ...['[CHAPTER]', 'TIMEBASE=1/1000', 'START=1000', 'END=2500', 'title=eins'],
  ...['[CHAPTER]', 'TIMEBASE=1/1000', 'START=2500', 'END=4000', 'title=zwei'],
  '',
].join('\n');

const pink = (seed: number, seconds: number) =>
  `anoisesrc=color=pink:amplitude=0.5:sample_rate=48000:duration=${seconds}:seed=${seed},tremolo=f=1.${seed}:d=0.8`;

/** The file's path; it is made once and kept between runs. */
export async function makeRichSource(): Promise<string> {
  const folder = path.join(tmpdir(), 'nightmill-rich-source-1');
  await mkdir(folder, { recursive: true });
  const file = path.join(folder, 'rich.mov');
  await makeFileOnce(file, async (draft) => {
    const metadata = `${draft}.txt`;
    await writeFile(metadata, texts);
    await execa('ffmpeg', [...inputs(metadata), ...outputs, draft], { timeout: 60_000 });
  });
  return file;
}

function inputs(metadata: string): string[] {
  return [
    ...['-nostdin', '-loglevel', 'error', '-y'],
    ...[
      '-f',
      'lavfi',
      '-i',
      `testsrc2=size=320x180:rate=30000/1001,trim=end_frame=${richFrames},noise=alls=4:allf=t:all_seed=3`,
    ],
    ...['-f', 'lavfi', '-i', `${pink(1, 4)}[l];${pink(2, 4)}[r];[l][r]join=inputs=2:channel_layout=stereo`],
    ...['-itsoffset', '0.2', '-f', 'lavfi', '-i', pink(3, 3.5)],
    ...['-i', metadata],
  ];
}

const colour = 'setparams=color_primaries=bt709:color_trc=bt709:colorspace=bt709:range=tv';
const outputs = [
  ...['-map', '0:v', '-map', '1:a', '-map', '2:a', '-map_metadata', '3', '-map_chapters', '3'],
  ...[
    '-vf',
    `${colour},setsar=1`,
    '-c:v',
    'libx264',
    '-preset',
    'veryfast',
    '-crf',
    '20',
    '-g',
    '30',
    '-bf',
    '2',
    '-pix_fmt',
    'yuv420p',
  ],
  ...['-c:a', 'pcm_s16le', '-timecode', '00:59:58;02', '-metadata:s:v:0', 'reel_name=A001'],
  ...[
    '-metadata:s:a:0',
    'language=ger',
    '-metadata:s:a:0',
    'handler_name=Ton',
    '-metadata:s:a:0',
    'title=Ton',
  ],
  ...['-metadata:s:a:1', 'language=eng', '-disposition:a:0', '0', '-disposition:a:1', 'default'],
  ...['-movie_timescale', '240000', '-movflags', 'use_metadata_tags'],
];
