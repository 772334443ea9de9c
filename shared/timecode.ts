// Timecode labels and frame counts, SMPTE ST 12-1. Drop frame skips numbers, never pictures: ;00 and ;01 of each
// minute except every tenth (four numbers at 59.94), so that labels keep pace with the clock.
import { compareRational, type Rational, rational, scaleInteger } from './rational.ts';

/** A label count per second (`nominal`, 1–120) with the drop-frame flag. 30000/1001 counts 30 labels. */
export type TimecodeRate = { readonly nominal: number; readonly dropFrame: boolean };

/** The label rate of a picture rate: 24000/1001 → 24, 60000/1001 → 60. */
export function timecodeRate(rate: Rational, dropFrame: boolean): TimecodeRate {
  return { nominal: scaleInteger(1, rate, 'nearest'), dropFrame };
}

/** Drop frame is defined for 30000/1001 and 60000/1001 only. */
export function allowsDropFrame(rate: Rational): boolean {
  return [rational(30000, 1001), rational(60000, 1001)].some((r) => compareRational(r, rate) === 0);
}

/**
 * The frame number (≥ 0, counted from 00:00:00:00) of a label `HH:MM:SS:FF`, with `;` or `.` before FF for drop frame.
 * Null when the text is no label, a field is out of range, or the label is one that drop frame skips.
 */
export function parseTimecode(text: string, nominal: number): { frame: number; rate: TimecodeRate } | null {
  const match = /^(\d{2}):(\d{2}):(\d{2})([:;.])(\d{2,3})$/.exec(text);
  if (!match) return null;
  const [hours, minutes, seconds, frames] = [1, 2, 3, 5].map((i) => Number(match[i])) as [
    number,
    number,
    number,
    number,
  ];
  const dropFrame = match[4] !== ':';
  if (hours > 23 || minutes > 59 || seconds > 59 || frames >= nominal) return null;
  const skipped = dropFrame ? skippedPerMinute(nominal) : 0;
  if (dropFrame && seconds === 0 && minutes % 10 !== 0 && frames < skipped) return null;
  const totalMinutes = hours * 60 + minutes;
  const label = (totalMinutes * 60 + seconds) * nominal + frames;
  return {
    frame: label - skipped * (totalMinutes - Math.floor(totalMinutes / 10)),
    rate: { nominal, dropFrame },
  };
}

/** The label of frame `frame` (≥ 0); wraps after 24 hours. */
export function formatTimecode(frame: number, rate: TimecodeRate): string {
  const label = rate.dropFrame
    ? labelNumber(frame % framesPerDay(rate), rate.nominal)
    : frame % framesPerDay(rate);
  const pad = (n: number) => String(n).padStart(2, '0');
  const seconds = Math.floor(label / rate.nominal);
  const fields = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60].map(pad).join(':');
  return `${fields}${rate.dropFrame ? ';' : ':'}${pad(label % rate.nominal)}`;
}

/** 2 589 408 at 29.97 drop frame, 2 592 000 at 30 without. */
export function framesPerDay(rate: TimecodeRate): number {
  const minutes = 24 * 60;
  const skipped = rate.dropFrame ? skippedPerMinute(rate.nominal) * (minutes - minutes / 10) : 0;
  return minutes * 60 * rate.nominal - skipped;
}

function skippedPerMinute(nominal: number): number {
  return Math.round(nominal / 15);
}

function labelNumber(frame: number, nominal: number): number {
  const skipped = skippedPerMinute(nominal);
  const perMinute = nominal * 60 - skipped;
  const perTen = perMinute * 10 + skipped;
  const tens = Math.floor(frame / perTen);
  const rest = frame % perTen;
  // The first minute of ten keeps all its numbers, the nine after it skip.
  const minutes = rest < nominal * 60 ? 0 : 1 + Math.floor((rest - nominal * 60) / perMinute);
  return frame + skipped * (9 * tens + minutes);
}
