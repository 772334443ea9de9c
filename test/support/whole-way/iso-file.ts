// A QuickTime or MP4 file as mp4box reads it, which shares no code with FFmpeg.
import { readFile } from 'node:fs/promises';
import { createFile, type Movie, MP4BoxBuffer } from 'mp4box';

export type IsoPicture = {
  /** Names of the sample descriptions: `hvc1`, `AVdh`. */
  readonly sampleEntries: readonly string[];
  /** Ticks per second. */
  readonly timescale: number;
  /** When each picture is presented, ticks after the film's zero, edit list applied, in order of presentation. */
  readonly shownAtTicks: readonly number[];
  /** Decode times in file order, ticks. */
  readonly decodedAtTicks: readonly number[];
  /** The movie header stands before the media data. */
  readonly headerFirst: boolean;
};

export async function readIsoPicture(path: string): Promise<IsoPicture> {
  const file = createFile();
  const ready = Promise.withResolvers<Movie>();
  file.onReady = ready.resolve;
  file.onError = (_module, message) => ready.reject(new Error(message));
  const bytes = await readFile(path);
  file.appendBuffer(MP4BoxBuffer.fromArrayBuffer(new Uint8Array(bytes).buffer, 0));
  file.flush();
  const movie = await ready.promise;
  // By its handler: mp4box counts a track of a codec that it doesn't know for no picture.
  const track = movie.tracks.find(({ id }) => file.getTrackById(id).mdia.hdlr.handler === 'vide');
  if (track === undefined) throw new Error(`mp4box finds no picture track in ${path}`);
  const samples = file.getTrackSamplesInfo(track.id);
  const offset = startOf(track.edits ?? [], { movie: movie.timescale, track: track.timescale });
  const box = file.getTrackById(track.id);
  return {
    sampleEntries: box.mdia.minf.stbl.stsd.entries.map((entry) => entry.type),
    timescale: track.timescale,
    shownAtTicks: samples.map((sample) => sample.cts + offset).toSorted((a, b) => a - b),
    decodedAtTicks: samples.map((sample) => sample.dts),
    headerFirst: positionOf(file.boxes, 'moov') < positionOf(file.boxes, 'mdat'),
  };
}

type Edit = { readonly media_time: number; readonly segment_duration: number };

/** What the edit list adds to composition times (ISO/IEC 14496-12, `elst`): an empty edit waits, a media time skips. */
function startOf(edits: readonly Edit[], timescales: { movie: number; track: number }): number {
  const empty = edits.filter((edit) => edit.media_time === -1);
  const media = edits.filter((edit) => edit.media_time !== -1);
  if (media.length > 1) throw new Error('an edit list with several pieces of media');
  const waits = empty.reduce(
    (sum, edit) => sum + (edit.segment_duration * timescales.track) / timescales.movie,
    0,
  );
  return waits - (media[0]?.media_time ?? 0);
}

function positionOf(boxes: readonly { readonly type?: string | undefined }[], type: string): number {
  return boxes.findIndex((box) => box.type === type);
}
