// Cursors of lists: opaque to clients, the number of the last job shown to us.
import { MillError } from '#shared/errors.ts';

export function writeCursor(number: number): string {
  return Buffer.from(`after ${number}`).toString('base64url');
}

/** Throws MillError `bad-request` for a text that no list gave out. */
export function readCursor(cursor: string): number {
  const match = /^after (\d{1,15})$/.exec(Buffer.from(cursor, 'base64url').toString());
  if (!match)
    throw new MillError(
      'bad-request',
      'the cursor is none that a list gave out; leave it out to begin again',
    );
  return Number(match[1]);
}
