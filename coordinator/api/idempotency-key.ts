// The Idempotency-Key header: read, and bound to the request that it came with.
import { createHash } from 'node:crypto';
import { MillError } from '#shared/errors.ts';
import type { IdempotencyKey } from './api-ports.ts';

const longestKey = 255;

/**
 * The key of a request, or null when it has none. `request` is the checked request: defaults are filled in and its keys
 * are in the schema's order, so that equal requests have equal fingerprints however they were written.
 * Throws MillError `bad-request`.
 */
export function readIdempotencyKey(header: string | undefined, request: unknown): IdempotencyKey | null {
  if (header === undefined) return null;
  const key = parseKey(header.trim());
  if (key === null) {
    throw new MillError(
      'bad-request',
      `Idempotency-Key: send 1 to ${longestKey} printable ASCII characters, bare or as a quoted string.`,
    );
  }
  return { key, fingerprint: createHash('sha256').update(JSON.stringify(request)).digest('hex') };
}

/** The quoted form is a string of RFC 9651 section 3.3.3: `\"` and `\\` are its only escapes. */
function parseKey(text: string): string | null {
  const quoted = /^"((?:[ !#-[\]-~]|\\["\\])*)"$/.exec(text);
  const key = quoted ? (quoted[1] ?? '').replace(/\\(["\\])/g, '$1') : text;
  const wellFormed = quoted !== null || /^[!#-~]+$/.test(text);
  return wellFormed && key.length > 0 && key.length <= longestKey ? key : null;
}
