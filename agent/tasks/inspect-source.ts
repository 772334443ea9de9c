// Inspects a source: everything that planning must know of it, measured on the file, not believed from its header.
import { MillError } from '#shared/errors.ts';
import type { MediaFacts } from '#shared/facts.ts';
import type { InspectTask } from '#shared/task.ts';
import { choosePicture } from '../media/facts/choose-picture.ts';
import { composeFacts } from '../media/facts/compose-facts.ts';
import { parseSeconds } from '../media/facts/decimal-seconds.ts';
import type { ProbeStream } from '../media/facts/probe-report.ts';
import { maxPixels } from '../media/safe-input.ts';
import { countPictures } from './inspect/count-pictures.ts';
import { probeHeader, probePackets, samplePictures, timeBaseOf } from './inspect/probe-source.ts';
import { fingerprint, recogniseSource, requireUnchanged } from './inspect/source-file.ts';
import type { TaskContext } from './task-context.ts';

/** What a test changes to reach the ways of long sources with short ones. */
export type InspectOptions = { readonly decodeShortWhole: boolean };

/**
 * Throws MillError `not-media`, `no-picture`, `too-large`, `source-truncated`, `source-damaged`, `source-changed`,
 * `timeout`, and what opening a source throws.
 */
export async function inspectSource(
  task: InspectTask,
  context: TaskContext,
  options: InspectOptions = { decodeShortWhole: true },
): Promise<{ kind: 'inspect'; facts: MediaFacts }> {
  const { signal } = context;
  const source = await recogniseSource(task.path, await context.volumes.openSource(task.path));
  const header = await probeHeader(source, signal);
  const choice = choosePicture(header);
  if (!choice) {
    throw new MillError(
      'no-picture',
      `${task.path} has no picture track, only ${kindsOf(header.streams)}; hand in a film`,
    );
  }
  requireSize(task.path, choice.track);
  const [packets, frames, hash] = await Promise.all([
    probePackets({ source, header, picture: choice.track, signal }),
    samplePictures({ source, header, picture: choice.track, signal }),
    fingerprint(source),
  ]);
  const timeBase = timeBaseOf(choice.track);
  const containerStart = parseSeconds(header.format.start_time) ?? { num: 0, den: 1 };
  const counted = await countPictures({
    source,
    track: choice.track,
    timeBase,
    containerStart,
    packets,
    signal,
    ...options,
  });
  await requireUnchanged(source);
  const { bytes, modifiedMs, demuxer, timecodeStarts } = source;
  const file = { bytes, modifiedMs, fingerprint: hash, demuxer };
  const measured = {
    file,
    timecodeStarts,
    header,
    choice,
    frames,
    packets,
    counted,
    timeBase,
    containerStart,
  };
  return { kind: 'inspect', facts: composeFacts(measured) };
}

function requireSize(name: string, track: ProbeStream): void {
  const { width, height } = track;
  if (width * height > maxPixels) {
    throw new MillError(
      'too-large',
      `${name} has pictures of ${width}×${height} samples, more than is taken here; scale it down first`,
    );
  }
}

function kindsOf(streams: readonly ProbeStream[]): string {
  const kinds = [
    ...new Set(
      streams.map((track) => (track.codec_type === 'video' ? 'attached picture' : track.codec_type)),
    ),
  ];
  return kinds.length === 0 ? 'nothing that is known' : kinds.join(', ');
}
