// Where a sound track begins and ends and whether its timestamps break, from its packets, without keeping them.
import { type Rational, toNumber } from '#shared/rational.ts';
import type { Packet } from './packet-line.ts';

/** Times in seconds on the file's clock. */
export type SoundSpan = {
  /** First presented sound: encoder delay is passed over. */
  readonly startSeconds: number;
  readonly endSeconds: number;
  /** Breaks of more than 10 ms beyond the rounding of the clock. */
  readonly breaks: number;
};

export type SoundCollector = {
  add(packet: Packet): void;
  /** Null when no packet had a time. `firstTicks`: time of the first decoded sound, where that is known. */
  finish(firstTicks: number | null): SoundSpan | null;
};

const breakSeconds = 0.01;

export function collectSoundPackets(timeBase: Rational, sampleRate: number): SoundCollector {
  const tick = toNumber(timeBase);
  const samples = (count: number) => count / sampleRate / tick;
  // Each of two timestamps may be rounded by a tick of the clock.
  const slack = breakSeconds / tick + 2;
  let start: number | null = null;
  let end: number | null = null;
  let expected: number | null = null;
  let breaks = 0;

  return {
    add(packet) {
      const time = packet.pts ?? packet.dts ?? expected;
      if (time === null) return;
      if (expected !== null && Math.abs(time - expected) > slack) breaks += 1;
      const duration = packet.duration ?? 0;
      expected = duration > 0 ? time + duration : null;
      // Players drop the delay told with the first packet; an edit list may say the same by discarding packets.
      if (start === null && packet.skipSamples > 0) start = time + samples(packet.skipSamples);
      else if (start === null && !packet.discard) start = time;
      if (!packet.discard) end = Math.max(end ?? time, time + duration - samples(packet.paddingSamples));
    },
    finish(firstTicks) {
      const from = firstTicks ?? start;
      if (from === null || end === null) return null;
      return { startSeconds: from * tick, endSeconds: Math.max(from, end) * tick, breaks };
    },
  };
}
