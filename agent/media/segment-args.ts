// The argument list of one encoder process: a segment of the grid in, grain after grain out, with the hashes of the
// source pictures at every grain border beside them.
import type { EncodeTask } from '#shared/task.ts';
import { gridClock, gridFilters, sourceInput } from './decode-args.ts';
import { encoderArgs } from './encoder-args.ts';
import { pictureFilters } from './picture-filters.ts';
import { quietOptions } from './safe-input.ts';

export type SegmentFiles = {
  /** Absolute path of the source on this machine. */
  readonly source: string;
  /** Folder for the grains. */
  readonly folder: string;
};

/** Grain wrapper: exact clocks need an ISO-family file, whatever the deliverable's wrapper is. */
export function grainExtension(task: Pick<EncodeTask, 'format'>): '.mov' | '.mp4' {
  const { codec } = task.format.picture;
  return codec === 'vc3' || codec === 'prores' || codec === 'ffv1' ? '.mov' : '.mp4';
}

export function segmentArgs(task: EncodeTask, files: SegmentFiles): string[] {
  return [
    ...quietOptions,
    ...['-y', '-loglevel', 'warning', '-nostats', '-progress', 'pipe:1', '-stats_period', '0.5'],
    ...sourceInput(files.source, task.source, task.seekSeconds),
    ...['-filter_complex', segmentGraph(task)],
    ...pictureOutput(task, files.folder),
    ...borderOutput,
  ];
}

/** Branch `picture` goes to the encoder; branch `border` gives the first picture of every grain and the one beyond the end. */
function segmentGraph(task: EncodeTask): string {
  const { track, way, rate, range, grainFrames } = task;
  const frames = range.end - range.first;
  const toEnd = range.end === task.totalFrames;
  const grid = gridFilters({ track, way, rate, first: range.first, toEnd });
  const picture = [...gridClock(rate), `trim=end_frame=${frames}`, ...pictureFilters(track, way)];
  // A resampled film is padded at its end, so that nothing can be said about a picture beyond.
  const beyond = toEnd && way.resample ? [`trim=end_frame=${frames}`] : [];
  const border = [...beyond, `select=not(mod(n\\,${grainFrames}))+eq(n\\,${frames})`];
  // The film's last segment reads to the end of the file: a picture too many must not go unseen.
  const last = toEnd ? [] : [`trim=end_frame=${frames + 1}`];
  return [
    `[0:${track.index}]${[...grid, ...last, 'split'].join(',')}[p][b]`,
    `[p]${picture.join(',')}[picture]`,
    `[b]${border.join(',')}[border]`,
  ].join(';');
}

function pictureOutput(task: EncodeTask, folder: string): string[] {
  const { rate, range, grainFrames } = task;
  const extension = grainExtension(task);
  const cuts: number[] = [];
  for (let at = grainFrames; at < range.end - range.first; at += grainFrames) cuts.push(at);
  return [
    ...['-map', '[picture]', '-r', `${rate.num}/${rate.den}`, '-fps_mode', 'cfr'],
    ...encoderArgs({ spec: task.format.picture, way: task.way, gopFrames: task.gopFrames }),
    ...['-map_metadata', '-1', '-fflags', '+bitexact', '-flush_packets', '1'],
    ...[
      '-f',
      'segment',
      '-reset_timestamps',
      '1',
      '-segment_start_number',
      String(range.first / grainFrames),
    ],
    ...(cuts.length > 0 ? ['-segment_frames', cuts.join(',')] : ['-segment_time', '1000000']),
    ...['-segment_format', extension.slice(1), '-segment_format_options', grainClock(rate.num)],
    ...['-segment_list', 'pipe:1', '-segment_list_type', 'csv', `${folder}/%06d${extension}`],
  ];
}

/** Both clocks of the file count in units of 1 / numerator, so that every frame stands at a whole number of ticks. */
function grainClock(numerator: number): string {
  return `video_track_timescale=${numerator}:movie_timescale=${numerator}`;
}

const borderOutput = [
  '-map',
  '[border]',
  '-fps_mode',
  'passthrough',
  '-enc_time_base',
  '-1',
  '-flush_packets',
  '1',
  '-f',
  'framehash',
  '-hash',
  'murmur3',
  'pipe:1',
];
