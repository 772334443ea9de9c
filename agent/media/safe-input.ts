// Arguments that every ffmpeg and ffprobe run on someone's media begins with: only local files, only the wrapper
// that our own sniffing expects, no absurd picture sizes. A media file is untrusted input to a large C program.

/** Largest picture that is opened, samples: 16384 × 16384. */
export const maxPixels = 16_384 * 16_384;

/** Options before `-i` for a source whose demuxer is known. The whitelist must name the demuxer's own full name list. */
export function guardOptions(demuxer: string): string[] {
  return ['-protocol_whitelist', 'file', '-format_whitelist', demuxer, '-max_pixels', String(maxPixels)];
}

/** Input name that ffmpeg can't take for a protocol, an option or a pattern. `path` is absolute. */
export function fileInput(path: string): string {
  return `file:${path}`;
}

export const quietOptions = ['-hide_banner', '-nostdin'] as const;
