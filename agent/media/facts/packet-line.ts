// One line of ffprobe's packet listing, and the options that make it. The listing is read line by line, because a
// feature film has a few hundred thousand packets a track.

/** Options that list every packet of every track as `track,pts,dts,duration,flags[,skipped samples,padding]`. */
export const packetListOptions = [
  '-show_entries',
  'packet=stream_index,pts,dts,duration,flags:packet_side_data=skip_samples,discard_padding',
  '-of',
  'csv=p=0',
] as const;

/** Times are ticks of the track; null where the container says nothing. */
export type Packet = {
  readonly track: number;
  readonly pts: number | null;
  readonly dts: number | null;
  readonly duration: number | null;
  readonly keyframe: boolean;
  /** Decoded, but outside what an edit list presents. */
  readonly discard: boolean;
  readonly corrupt: boolean;
  /** Samples at the head of this packet that are decoded and not presented (encoder delay). */
  readonly skipSamples: number;
  /** The same at its end (encoder padding). */
  readonly paddingSamples: number;
};

/** Null for the empty lines that follow a packet with side data. */
export function parsePacketLine(line: string): Packet | null {
  const fields = line.split(',');
  const [track, pts, dts, duration, flags, skip, padding] = fields;
  if (track === undefined || flags === undefined || track === '') return null;
  return {
    track: Number(track),
    pts: ticks(pts),
    dts: ticks(dts),
    duration: ticks(duration),
    keyframe: flags.includes('K'),
    discard: flags.includes('D'),
    corrupt: flags.includes('C'),
    skipSamples: ticks(skip) ?? 0,
    paddingSamples: ticks(padding) ?? 0,
  };
}

function ticks(field: string | undefined): number | null {
  if (field === undefined || field === '' || field === 'N/A') return null;
  const value = Number(field);
  return Number.isSafeInteger(value) ? value : null;
}
