// One sentence for many sound tracks: tracks that give the same finding are named together.

export type TrackFinding = { readonly track: number; readonly text: string };

/** `tracks 1–8: 48000 samples`, `track 1: mono; tracks 2, 4: stereo`. */
export function sayTracks(findings: readonly TrackFinding[]): string[] {
  const byText = Map.groupBy(findings, (finding) => finding.text);
  return [...byText].map(([text, alike]) => {
    const numbers = alike.map((finding) => finding.track);
    return `${numbers.length === 1 ? 'track' : 'tracks'} ${sayNumbers(numbers)}: ${text}`;
  });
}

/** Rising numbers, runs of three and more as `1–3`. */
function sayNumbers(numbers: readonly number[]): string {
  const runs: number[][] = [];
  for (const number of numbers) {
    const run = runs.at(-1);
    if (run?.at(-1) === number - 1) run.push(number);
    else runs.push([number]);
  }
  return runs
    .map((run) => (run.length > 2 ? `${run[0] ?? 0}–${run.at(-1) ?? 0}` : run.join(', ')))
    .join(', ');
}
