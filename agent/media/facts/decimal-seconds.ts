// ffprobe's decimal seconds as exact fractions.
import { type Rational, rational } from '#shared/rational.ts';

/** Reads `-3.717689`. Null for `N/A` and anything else that is no decimal number. */
export function parseSeconds(text: string | undefined): Rational | null {
  const match = /^(-?)(\d{1,9})(?:\.(\d{1,6})\d*)?$/.exec(text ?? '');
  if (!match) return null;
  const micro = Number(match[2]) * 1_000_000 + Number((match[3] ?? '').padEnd(6, '0'));
  return rational(match[1] === '-' ? -micro : micro, 1_000_000);
}
