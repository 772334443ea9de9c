// Processor time of everything that this process started and that has ended, and of what those started. Unlike the wall
// clock it hardly depends on what else the machine does.
import { readFile } from 'node:fs/promises';

/** Ticks a second in /proc on every Linux that Node runs on (USER_HZ). */
const ticksPerSecond = 100;

/** Seconds, user and system; null where the system has no /proc. */
export async function childrenSeconds(): Promise<number | null> {
  const stat = await readFile('/proc/self/stat', 'utf8').catch(() => null);
  if (stat === null) return null;
  // proc(5): fields 16 and 17, cutime and cstime; the name in field 2 may hold spaces.
  const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
  return (Number(fields[13]) + Number(fields[14])) / ticksPerSecond;
}
