// Which track is the film. Cover pictures, thumbnails and stills are video tracks too, by their codec only.
import type { ProbeHeader, ProbeStream } from './probe-report.ts';

export type Choice = { readonly track: ProbeStream; readonly reason: string };

/** Null when no track is a moving picture. */
export function choosePicture(header: ProbeHeader): Choice | null {
  const video = header.streams.filter((track) => track.codec_type === 'video');
  const moving = video.filter((track) => !isAttached(track));
  const [first] = moving;
  if (!first) return null;
  const left = video.length - moving.length;
  const aside = left === 0 ? '' : `; ${left} attached picture${left === 1 ? ' is' : 's are'} left aside`;
  if (moving.length === 1) return { track: first, reason: `the only picture track${aside}` };
  const flagged = moving.filter((track) => track.disposition['default'] === 1);
  const candidates = flagged.length > 0 ? flagged : moving;
  const best = candidates.reduce((a, b) => (area(b) > area(a) ? b : a));
  const among =
    flagged.length > 0 ? `${flagged.length} flagged default of ${moving.length}` : String(moving.length);
  return {
    track: best,
    reason: `the largest, among equals the first, of the picture tracks (${among})${aside}`,
  };
}

/** A picture that accompanies the file: cover art, thumbnail, still. */
export function isAttached(track: ProbeStream): boolean {
  return ['attached_pic', 'timed_thumbnails', 'still_image'].some((flag) => track.disposition[flag] === 1);
}

function area(track: ProbeStream): number {
  return track.width * track.height;
}
