// One way to write down what a check found, so that every check reads alike in the report.
import type { CheckName, CheckResult } from '#shared/check.ts';

export type Finding = {
  readonly name: CheckName;
  readonly ok: boolean;
  readonly measured: string;
  readonly limit: string;
  /** Frames of the grid at which it failed; any order, may repeat. */
  readonly frames?: Iterable<number>;
  readonly notes?: readonly string[];
};

/** Frames that a result names at the most: enough to find every broken grain of a few, never a whole film. */
export const namedFrames = 500;

export function verdict({ name, ok, measured, limit, frames = [], notes = [] }: Finding): CheckResult {
  const failed = [...new Set(frames)].toSorted((a, b) => a - b);
  const more = failed.length - namedFrames;
  const allNotes = more > 0 ? [...notes, `${more} more frames are not named here`] : notes;
  return {
    name,
    ok,
    measured,
    limit,
    frames: failed.slice(0, namedFrames),
    ...(allNotes.length > 0 && { note: allNotes.join('; ') }),
  };
}

/** `1 frame`, `2 frames`. */
export function counted(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? '' : 's'}`;
}

/** The findings of one check in one sentence, or what to say when there are none. */
export function listed(problems: readonly string[], whenNone: string, most = 5): string {
  if (problems.length === 0) return whenNone;
  const rest = problems.length - most;
  return problems.slice(0, most).join('; ') + (rest > 0 ? `; and ${rest} more` : '');
}
