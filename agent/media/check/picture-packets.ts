// The picture packets of a file as ffprobe lists them, one line each, in file order. Long films are read line by
// line: nothing here keeps a packet.

/** Fields for `-show_entries packet=…`, to be printed with `-of compact=p=0`. */
export const packetEntries = 'packet=pts,dts,size,flags';

export type PicturePacket = {
  /** Presentation time in ticks; null where the wrapper gives none. */
  readonly pts: number | null;
  readonly dts: number | null;
  readonly bytes: number;
  readonly keyframe: boolean;
  /** False for packets that the wrapper's edit list hides. */
  readonly presented: boolean;
};

/** Reads `pts=1001|dts=0|size=86|flags=K_`. Null for a line that is no packet. */
export function parsePacketLine(line: string): PicturePacket | null {
  const fields = new Map(line.split('|').map((field) => splitOnce(field)));
  const flags = fields.get('flags');
  if (flags === undefined || !fields.has('pts')) return null;
  return {
    pts: ticks(fields.get('pts')),
    dts: ticks(fields.get('dts')),
    bytes: Number(fields.get('size') ?? 0),
    keyframe: flags.includes('K'),
    presented: !flags.includes('D'),
  };
}

function splitOnce(field: string): [string, string] {
  const at = field.indexOf('=');
  return [field.slice(0, at), field.slice(at + 1)];
}

function ticks(text: string | undefined): number | null {
  return text !== undefined && /^-?\d+$/.test(text) ? Number(text) : null;
}
