// A terminal for tests: keeps what was written, and is as wide and as interrupted as a test wants.
import type { Terminal } from '../../../coordinator/cli/terminal.ts';

export type RecordingTerminal = Terminal & { readonly written: string[]; readonly told: string[] };

/** `written` is what came out, `told` everything else, line by line. */
export function recordingTerminal(changes: Partial<Terminal> = {}): RecordingTerminal {
  const written: string[] = [];
  const told: string[] = [];
  return {
    written,
    told,
    out: (line) => void written.push(...line.split('\n')),
    err: (line) => void told.push(...line.split('\n')),
    redraw: null,
    columns: 100,
    environment: {},
    interrupted: new AbortController().signal,
    ...changes,
  };
}
