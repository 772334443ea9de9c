// Processes of this system as a farm leaves or shares them.
import { execa } from 'execa';

export type RunningProcess = { readonly pid: number; readonly parent: number; readonly words: string };

export async function listProcesses(): Promise<RunningProcess[]> {
  const { stdout } = await execa('ps', ['-A', '-ww', '-o', 'pid=,ppid=,stat=,args='], { stdin: 'ignore' });
  return stdout.split('\n').flatMap((line) => {
    const match = /^\s*(\d+)\s+(\d+)\s+(\S+)\s+(.*)$/.exec(line);
    // One that has ended and only waits for its parent to look (Z) runs no longer.
    if (match === null || match[3]?.startsWith('Z')) return [];
    return [{ pid: Number(match[1]), parent: Number(match[2]), words: match[4] ?? '' }];
  });
}

/** All processes below the given ones. */
export function descendantsOf(pids: readonly number[], all: readonly RunningProcess[]): RunningProcess[] {
  const children = all.filter(({ pid, parent }) => pids.includes(parent) && !pids.includes(pid));
  return children.length === 0
    ? []
    : [
        ...children,
        ...descendantsOf(
          children.map(({ pid }) => pid),
          all,
        ),
      ];
}
