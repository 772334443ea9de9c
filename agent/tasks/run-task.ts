// The table of tasks: which function does which kind. Each is loaded when it is first needed, so that an agent that
// only encodes carries nothing else.
import { assertNever } from '#shared/errors.ts';
import type { Task, TaskResult } from '#shared/task.ts';
import type { TaskContext } from './task-context.ts';

/** Runs one task to its end. Throws MillError for every failure that is known. */
export async function runTask(task: Task, context: TaskContext): Promise<TaskResult> {
  switch (task.kind) {
    case 'inspect':
      return (await import('./inspect-source.ts')).inspectSource(task, context);
    case 'encode':
      return (await import('./encode-segment.ts')).encodeSegment(task, context);
    case 'sound':
      return (await import('./encode-sound.ts')).encodeSound(task, context);
    case 'join':
      return (await import('./join-grains.ts')).joinGrains(task, context);
    case 'check':
      return (await import('./check-joined.ts')).checkJoined(task, context);
    case 'deliver':
      return (await import('./deliver-file.ts')).deliverFile(task, context);
    default:
      return assertNever(task);
  }
}
