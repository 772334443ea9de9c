// FFprobe's report of a file that no longer changes, read once for all that is expected of it.
import { type ProbeReport, probe } from '../probe.ts';

const reports = new Map<string, Promise<ProbeReport>>();

export function probeOnce(path: string): Promise<ProbeReport> {
  const known = reports.get(path) ?? probe(path);
  reports.set(path, known);
  return known;
}
