// What ffmpeg says of decoded sound: samples and integrated loudness of each track from the log of filters that carry
// the track's number in their name, and hashes from the `streamhash` muxer. Also finds errors in a log with levels.

export type SoundMeasure = {
  /** Decoded samples per channel. */
  readonly samples: number;
  /** Integrated loudness, LUFS (ITU-R BS.1770, EBU R 128); null where nothing passed the gates. */
  readonly loudness: number | null;
  /** Hash of all decoded samples; null where none was asked for. */
  readonly hash: string | null;
};

export type SoundLog = {
  addStderr(line: string): void;
  addStdout(line: string): void;
  /** Measures by number `0…tracks-1`, as named in the filters (see sound-graph.ts). */
  result(tracks: number): SoundMeasure[];
};

/** ebur128 answers this while nothing has passed the absolute gate of −70 LUFS. */
const gateLufs = -70;

export function readSoundLog(): SoundLog {
  const samples = new Map<number, number>();
  const loudness = new Map<number, number>();
  const hashes: string[] = [];
  return {
    addStderr(line) {
      const match =
        /^\[(astats|ametadata)@s(\d+) @ [^\]]+\] \[info\] (?:Number of samples: |lavfi\.r128\.I=)(-?[\d.]+|-?inf|-?nan)$/.exec(
          line,
        );
      if (!match) return;
      (match[1] === 'astats' ? samples : loudness).set(Number(match[2]), Number(match[3]));
    },
    addStdout(line) {
      const match = /^\d+,a,\w+=([0-9a-f]+)$/.exec(line);
      if (match?.[1]) hashes.push(match[1]);
    },
    result(tracks) {
      return Array.from({ length: tracks }, (_, i) => {
        const lufs = loudness.get(i) ?? Number.NaN;
        return {
          samples: samples.get(i) ?? 0,
          loudness: Number.isFinite(lufs) && lufs > gateLufs ? lufs : null,
          hash: hashes[i] ?? null,
        };
      });
    },
  };
}

/** The message of a log line written with `-loglevel level+…` when it is an error or worse; null otherwise. */
export function errorInLog(line: string): string | null {
  const match = /^(?:\[[^\]]* @ [^\]]+\] )*\[(?:error|fatal|panic)\] (.*)$/.exec(line);
  return match?.[1] ?? null;
}
