// Part of the check `one-kind` (N3): parameter sets stand in the sample description and nowhere else. A bitstream filter
// throws everything else away without decoding; what is left of each packet is a parameter set inside the stream.
import type { PictureCodec } from '#shared/house-format.ts';
import { fileInput, guardOptions, quietOptions } from '../safe-input.ts';

/** Unit types that hold parameter sets: H.264 (SPS, PPS, SPS extension, subset SPS), H.265 (VPS, SPS, PPS), AV1 (sequence header). */
const unitTypes: Partial<Readonly<Record<PictureCodec, string>>> = {
  h264: '7-8|13|15',
  h265: '32-34',
  av1: '1',
};

/** Null for codecs that have no parameter sets: every picture describes itself. */
export function parameterSetArgs(file: {
  local: string;
  demuxer: string;
  codec: PictureCodec;
}): string[] | null {
  const types = unitTypes[file.codec];
  if (types === undefined) return null;
  return [
    ...[...quietOptions, '-loglevel', 'error'],
    ...[...guardOptions(file.demuxer), '-i', fileInput(file.local)],
    ...['-map', '0:v:0', '-c', 'copy', '-bsf:v', `filter_units=pass_types=${types}`],
    ...['-f', 'framehash', '-hash', 'murmur3', 'pipe:1'],
  ];
}

/** Counts the packets with parameter sets and how many kinds there are, from `framehash` lines. */
export function watchParameterSets(): {
  add(line: string): void;
  result(): { packets: number; kinds: number };
} {
  const kinds = new Set<string>();
  let packets = 0;
  return {
    add(line) {
      const hash = /^0, .*, *([0-9a-f]+)$/.exec(line)?.[1];
      if (hash === undefined) return;
      packets += 1;
      kinds.add(hash);
    },
    result: () => ({ packets, kinds: kinds.size }),
  };
}
