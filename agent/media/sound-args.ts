// The argument list that encodes the sound tracks, each whole, from its first sample to its last (N4). Their place beside
// the picture is kept apart, as a number, and given back at the join.

import type { Wrapper } from '#shared/house-format.ts';
import type { SoundWay } from '#shared/plan.ts';
import type { SoundTask } from '#shared/task.ts';
import { fileInput, guardOptions, quietOptions } from './safe-input.ts';

/** Wrapper of the intermediate files: the deliverable's own, so that joining copies packets as they are. */
export function soundExtension(wrapper: Wrapper): string {
  return `.${wrapper}`;
}

/** All tracks in one reading of the source, each into a file of its own: `outputs` are absolute, one for each track. */
export function soundArgs(
  task: Pick<SoundTask, 'tracks' | 'source'>,
  source: string,
  outputs: readonly string[],
): string[] {
  return [
    ...quietOptions,
    ...['-y', '-loglevel', 'error', '-nostats', '-progress', 'pipe:1', '-stats_period', '1'],
    ...[...guardOptions(task.source.demuxer), '-i', fileInput(source)],
    ...task.tracks.flatMap((track, position) => trackOutput(track, outputs[position] ?? '')),
  ];
}

function trackOutput(track: SoundWay, output: string): string[] {
  return [
    ...['-map', `0:${track.index}`, '-af', soundFilters(track).join(','), '-c:a', track.encoder],
    ...(track.bitRate === null ? [] : ['-b:a', String(track.bitRate)]),
    // A clock as fine as the samples: the default of 1/1000 s would round the edit list.
    ...(output.endsWith('.mkv') ? [] : ['-movie_timescale', '48000']),
    ...[
      '-map_metadata',
      '-1',
      '-map_chapters',
      '-1',
      '-fflags',
      '+bitexact',
      '-flags:a',
      '+bitexact',
      fileInput(output),
    ],
  ];
}

/** The first sample goes to zero; breaks of the timestamps are filled with silence, samples are never stretched. */
function soundFilters(track: SoundWay): string[] {
  const fill = track.fillGaps ? ['aresample=async=1:min_hard_comp=0.01:first_pts=0'] : [];
  return ['asetpts=PTS-STARTPTS', ...fill];
}
