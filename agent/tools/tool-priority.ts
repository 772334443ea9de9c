// The scheduling priority of ffmpeg and ffprobe: they give way to whoever works at the machine, the agent itself does
// not, so that its heartbeat stays punctual beside busy encoders.
import os from 'node:os';

let toolPriority: number = os.constants.priority.PRIORITY_LOW;

/** For every tool started from now on; said once, by the composition root. */
export function setToolsGiveWay(wanted: boolean): void {
  toolPriority = wanted ? os.constants.priority.PRIORITY_LOW : os.constants.priority.PRIORITY_NORMAL;
}

/** Right after the start: threads inherit it, so it must come before the tool has any. */
export function giveWay(pid: number | undefined): void {
  if (pid === undefined || toolPriority === os.constants.priority.PRIORITY_NORMAL) return;
  try {
    os.setPriority(pid, toolPriority);
  } catch {
    // The tool has ended already, or this system lets nobody change priorities: the work is the same.
  }
}
