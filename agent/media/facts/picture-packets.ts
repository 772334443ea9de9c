// The packets of the picture track, gathered one by one in compact columns and then put in presentation order.
import { createNumberColumn } from './number-column.ts';
import type { Packet } from './packet-line.ts';

/** Pictures in presentation order, as the container tells it. Times are ticks. */
export type PacketOrder = {
  /** Rising, one entry a presented packet. */
  readonly pts: Float64Array;
  /** Timestamps of those that are keyframes, rising. */
  readonly keyTicks: Float64Array;
  /** The file begins with a keyframe, and not in the middle of a group of pictures. */
  readonly beginsWithKeyframe: boolean;
  /** Duration of the last presented packet; null when the container doesn't say. */
  readonly lastDuration: number | null;
  readonly counts: PacketCounts;
};

export type PacketCounts = {
  /** Packets in the listing, presented or not. */
  readonly packets: number;
  /** Presented, but without a timestamp. */
  readonly withoutTime: number;
  /** Decoded and not presented: outside the edit list. */
  readonly discarded: number;
  /** Flagged by the demuxer: bytes are missing or changed. */
  readonly corrupt: number;
  /** Places where decode times run backwards: spliced recordings. */
  readonly backwards: number;
  /** Stored after a keyframe and shown before it: they may refer to pictures before the keyframe (open groups). */
  readonly leading: number;
};

export type PacketCollector = {
  add(packet: Packet): void;
  finish(): PacketOrder;
};

export function collectPicturePackets(): PacketCollector {
  const times = createNumberColumn();
  const keys = createNumberColumn();
  const counts = { packets: 0, withoutTime: 0, discarded: 0, corrupt: 0, backwards: 0, leading: 0 };
  let keyframe = Number.NEGATIVE_INFINITY;
  let beginsWithKeyframe = false;
  let lastDts = Number.NEGATIVE_INFINITY;
  let last: { pts: number; duration: number | null } = { pts: Number.NEGATIVE_INFINITY, duration: null };

  return {
    add(packet) {
      if (counts.packets === 0) beginsWithKeyframe = packet.keyframe;
      counts.packets += 1;
      if (packet.corrupt) counts.corrupt += 1;
      if (packet.dts !== null) {
        if (packet.dts < lastDts) counts.backwards += 1;
        lastDts = packet.dts;
      }
      if (packet.discard) counts.discarded += 1;
      else if (packet.pts === null) counts.withoutTime += 1;
      else {
        times.push(packet.pts);
        if (packet.keyframe) {
          keys.push(packet.pts);
          keyframe = packet.pts;
        } else if (packet.pts < keyframe) counts.leading += 1;
        if (packet.pts >= last.pts) last = { pts: packet.pts, duration: packet.duration };
      }
    },
    finish: () => ({
      pts: times.values().toSorted(),
      keyTicks: keys.values().toSorted(),
      beginsWithKeyframe,
      lastDuration: last.duration !== null && last.duration > 0 ? last.duration : null,
      counts,
    }),
  };
}
