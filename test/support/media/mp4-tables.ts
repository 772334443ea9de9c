// The tables of a QuickTime or MP4 file (ISO/IEC 14496-12) as mp4box reads them, which shares no code with FFmpeg.
import { readFile } from 'node:fs/promises';
import { createFile, type ISOFile, MP4BoxBuffer } from 'mp4box';

export type PictureTable = {
  /** Ticks per second of the track. */
  readonly timescale: number;
  /** Names of the sample descriptions. */
  readonly descriptions: readonly string[];
  /** Presentation time of each sample in file order, after the edit list; ticks. */
  readonly presentation: readonly number[];
  /** Decode time of each sample; ticks. */
  readonly decode: readonly number[];
  /** Numbers of the sync samples, from 0. */
  readonly sync: readonly number[];
  readonly durationTicks: number;
};

export type Mp4Tables = {
  readonly picture: PictureTable;
  /** Length of the empty edit before each sound track, ticks of the movie; 0 without one. */
  readonly sound: readonly { readonly emptyEdit: number; readonly samples: number }[];
  readonly movieTimescale: number;
  readonly headerFirst: boolean;
  readonly fileBytes: number;
  /** End of the last sample in the file. */
  readonly mediaEnd: number;
};

type Track = ReturnType<ISOFile['getInfo']>['tracks'][number];

export async function readMp4Tables(path: string): Promise<Mp4Tables> {
  const bytes = await readFile(path);
  const file = createFile();
  file.appendBuffer(MP4BoxBuffer.fromArrayBuffer(new Uint8Array(bytes).buffer, 0), true);
  file.flush();
  const info = file.getInfo();
  // By handler, since mp4box knows no VC-3.
  const ofKind = (handler: string) =>
    info.tracks.filter((track) => file.getTrackById(track.id).mdia.hdlr.handler === handler);
  const [video] = ofKind('vide');
  if (video === undefined) throw new Error(`mp4box finds no picture track in ${path}`);
  const top = file.boxes.map((box) => box.type);
  const samples = info.tracks.flatMap((track) => file.getTrackSamplesInfo(track.id));
  return {
    picture: pictureTable(file, video),
    sound: ofKind('soun').map((track) => ({
      emptyEdit: edits(file, track).filter((edit) => edit.media_time < 0)[0]?.segment_duration ?? 0,
      samples: file.getTrackSamplesInfo(track.id).length,
    })),
    movieTimescale: info.timescale,
    headerFirst: top.indexOf('moov') < top.indexOf('mdat'),
    fileBytes: bytes.length,
    mediaEnd: samples.reduce((end, sample) => Math.max(end, sample.offset + sample.size), 0),
  };
}

function pictureTable(file: ISOFile, track: Track): PictureTable {
  const samples = file.getTrackSamplesInfo(track.id);
  const shown = edits(file, track);
  if (shown.length > 1) throw new Error('more than one edit');
  const mediaStart = shown[0]?.media_time ?? 0;
  const table = file.getTrackById(track.id).mdia.minf.stbl;
  return {
    timescale: track.timescale,
    descriptions: table.stsd.entries.map((entry) => entry.type),
    presentation: samples.map((sample) => sample.cts - mediaStart),
    decode: samples.map((sample) => sample.dts),
    sync: samples.filter((sample) => sample.is_sync).map((sample) => sample.number),
    durationTicks: track.duration,
  };
}

function edits(file: ISOFile, track: Track) {
  return file.getTrackById(track.id).edts?.elst?.entries ?? [];
}
