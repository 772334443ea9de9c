// The check `time` (N2): frame k is presented at exactly k / rate, to the wrapper's resolution, and decode times rise.
// Fed one packet at a time; keeps one byte a frame.
import type { CheckResult } from '#shared/check.ts';
import type { Wrapper } from '#shared/house-format.ts';
import { formatRational, type Rational } from '#shared/rational.ts';
import { frameClock } from './frame-clock.ts';
import type { PicturePacket } from './picture-packets.ts';
import { counted, listed, verdict } from './verdict.ts';

export type TimesExpected = {
  readonly rate: Rational;
  readonly frames: number;
  /** Seconds per tick of the picture track. */
  readonly timeBase: Rational;
  /** Where frame 0 stands, seconds: above 0 only where sound begins earlier and the wrapper can't hide it. */
  readonly start: Rational;
  readonly wrapper: Wrapper;
};

export type PictureTimes = { add(packet: PicturePacket): void; result(): CheckResult };

export function watchPictureTimes(expected: TimesExpected): PictureTimes {
  const { rate, frames } = expected;
  const clock = frameClock(expected);
  const seen = new Uint8Array(frames);
  const wrong: number[] = [];
  const counts = { offGrid: 0, repeated: 0, outside: 0, backward: 0, hidden: 0 };
  let lastDts: number | null = null;

  function addTime(pts: number): void {
    const frame = clock.frameAt(pts);
    if (frame < 0 || frame >= frames) {
      counts.outside += 1;
      return;
    }
    const repeated = seen[frame] === 1;
    const offGrid = clock.ticksOf(frame) !== pts;
    if (repeated) counts.repeated += 1;
    if (offGrid) counts.offGrid += 1;
    if (repeated || offGrid) wrong.push(frame);
    seen[frame] = 1;
  }

  return {
    add(packet) {
      if (!packet.presented || packet.pts === null) counts.hidden += 1;
      else addTime(packet.pts);
      if (packet.dts === null) return;
      if (lastDts !== null && packet.dts <= lastDts) counts.backward += 1;
      lastDts = packet.dts;
    },
    result() {
      const missing = missingFrames(seen);
      const problems = [
        ...problem(missing.length, 'picture is missing', 'pictures are missing'),
        ...problem(counts.repeated, 'time is repeated', 'times are repeated'),
        ...problem(counts.offGrid, 'picture stands off the grid', 'pictures stand off the grid'),
        ...problem(counts.outside, 'picture stands outside the film', 'pictures stand outside the film'),
        ...problem(counts.backward, 'decode time does not rise', 'decode times do not rise'),
        ...problem(counts.hidden, 'picture is hidden or has no time', 'pictures are hidden or have no time'),
        ...clockProblem(expected, clock.holdsEveryFrame),
      ];
      return verdict({
        name: 'time',
        ok: problems.length === 0,
        measured: listed(problems, `${counted(frames, 'picture')} at k / rate, decode times rising`),
        limit: `frame k at k / ${formatRational(rate)} s, ${resolution(expected)}`,
        frames: [...wrong, ...missing],
      });
    },
  };
}

function missingFrames(seen: Uint8Array): number[] {
  const missing: number[] = [];
  for (let frame = seen.indexOf(0); frame >= 0; frame = seen.indexOf(0, frame + 1)) missing.push(frame);
  return missing;
}

function problem(count: number, one: string, many: string): string[] {
  return count === 0 ? [] : [`${count} ${count === 1 ? one : many}`];
}

/** QuickTime and MP4 choose their clock, so it has to hold every frame exactly; Matroska's is a millisecond. */
function clockProblem({ wrapper, timeBase }: TimesExpected, holdsEveryFrame: boolean): string[] {
  return wrapper === 'mkv' || holdsEveryFrame
    ? []
    : [`the track's clock of ${formatRational(timeBase)} s cannot hold the rate`];
}

function resolution({ wrapper, timeBase }: TimesExpected): string {
  return wrapper === 'mkv'
    ? `rounded to ${formatRational(timeBase)} s`
    : `exact in ticks of ${formatRational(timeBase)} s`;
}
