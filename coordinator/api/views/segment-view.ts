// What every lease of a job came to: who encoded which frames, how fast, and what of it is stored.
import type { JobDetail } from '#shared/job.ts';
import type { Progress } from '#shared/link.ts';
import type { Attempt, JobRecord } from '../../state/job-record.ts';

export type SegmentView = JobDetail['segments'][number];
export type ProgressByAttempt = ReadonlyMap<number, Progress>;

/** One entry for each encode attempt, oldest first. `progress` is what the open ones said last. */
export function viewSegments(record: JobRecord, progress: ProgressByAttempt): SegmentView[] {
  const stored = storedByAttempt(record);
  return record.attempts.flatMap((attempt) => {
    if (attempt.kind !== 'encode' || attempt.range === null) return [];
    const kept = stored.get(attempt.number) ?? { frames: 0, grains: 0 };
    const running = attempt.state === 'open' ? progress.get(attempt.number) : undefined;
    return [
      {
        attempt: attempt.number,
        machine: attempt.machine,
        lane: attempt.lane ?? '',
        first: attempt.range.first,
        end: attempt.range.end,
        state: attempt.state,
        framesDone: Math.max(kept.frames, running?.frames ?? 0),
        framesPerSecond: running ? runningRate(running) : endedRate(attempt, kept.frames),
        grainsStored: kept.grains,
      },
    ];
  });
}

/** Speed so far, frames/s; null before the first frame. */
export function runningRate(progress: Progress): number | null {
  return progress.frames > 0 && progress.seconds > 0 ? progress.frames / progress.seconds : null;
}

/** Stored frames over the attempt's whole life, so start and upload count too; null when nothing was stored. */
function endedRate(attempt: Attempt, frames: number): number | null {
  if (attempt.endedMs === null || attempt.endedMs <= attempt.openedMs || frames === 0) return null;
  return frames / ((attempt.endedMs - attempt.openedMs) / 1000);
}

function storedByAttempt(record: JobRecord): Map<number, { frames: number; grains: number }> {
  const stored = new Map<number, { frames: number; grains: number }>();
  for (const grain of record.grains.values()) {
    const sum = stored.get(grain.attempt) ?? { frames: 0, grains: 0 };
    stored.set(grain.attempt, { frames: sum.frames + grain.frames, grains: sum.grains + 1 });
  }
  return stored;
}
