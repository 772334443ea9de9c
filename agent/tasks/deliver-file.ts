// The deliver task: the checked file under its final name on the destination, complete and proven, or not at all (N6).
// Nothing on the destination is touched but this job's own temporary files and, if the submission says so, the name.
import { lstat, statfs } from 'node:fs/promises';
import path from 'node:path';
import { MillError } from '#shared/errors.ts';
import { reportSuffix } from '#shared/house-format.ts';
import type { DeliverTask, TaskResult } from '#shared/task.ts';
import { hashFile } from '../tools/hash-file.ts';
import { isErrno } from '../tools/publish-file.ts';
import { explainError } from './deliver/explain-error.ts';
import { placeFile, removeLeftovers } from './deliver/place-file.ts';
import { writeCopy, writeText } from './deliver/write-part.ts';
import type { TaskContext } from './task-context.ts';

type DeliverResult = Extract<TaskResult, { kind: 'deliver' }>;

/**
 * Throws MillError `destination-exists`, `destination-unwritable`, `no-space`, `stale-attempt` or `delivery-failed`;
 * the destination is then as it was, but for a deliverable that was already complete.
 */
export async function deliverFile(task: DeliverTask, context: TaskContext): Promise<DeliverResult> {
  const target = await context.volumes.destination(task.to);
  const source = await context.granary.open(task.joined);
  try {
    const notes = await deliver(task, context, { source, target });
    return { kind: 'deliver', ...task.joined, check: bytesCheck(task, notes) };
  } catch (error) {
    throw explainError(error, target, context.signal);
  }
}

type Ends = { readonly source: string; readonly target: string };

/** Resolves with notes for the report. */
async function deliver(task: DeliverTask, context: TaskContext, { source, target }: Ends): Promise<string[]> {
  await removeLeftovers(target, task);
  const notes: string[] = [];
  const there = await alreadyThere(task, target, context);
  if (there) notes.push('the deliverable was already there, byte for byte');
  else {
    await requireFreeName(reportName(task, target), task);
    await requireSpace(target, task.joined.bytes);
    const write = (part: string) =>
      writeCopy({ from: source, to: part, due: task.joined, signal: context.signal });
    notes.push(...(await placeFile({ target, write, task, context })));
  }
  notes.push(...(await deliverReport(task, context, { target, there })));
  return notes;
}

function bytesCheck({ joined }: DeliverTask, notes: readonly string[]): DeliverResult['check'] {
  const { hex } = joined.hash;
  return {
    name: 'bytes',
    ok: true,
    measured: `${joined.bytes} bytes, xxh128 ${hex}, read back from the destination`,
    limit: `${joined.bytes} bytes, xxh128 ${hex}, as the checked file`,
    frames: [],
    ...(notes.length > 0 && { note: notes.join('; ') }),
  };
}

/**
 * True when the name already holds exactly the checked bytes: an earlier attempt of this job got that far and died
 * before it could say so. Throws `destination-exists` for anything else that may not be replaced.
 */
async function alreadyThere(task: DeliverTask, target: string, context: TaskContext): Promise<boolean> {
  const found = await lstat(target).catch(noneThere);
  if (found?.isFile() && found.size === task.joined.bytes) {
    const { hash } = await hashFile(target, context.signal);
    if (hash.hex === task.joined.hash.hex) return true;
  }
  if (found && !found.isDirectory() && task.replace) return false;
  if (found) throw nameTaken(target, found.isDirectory());
  return false;
}

/** The report follows the deliverable, so that a watcher who sees the report finds the file complete. */
async function deliverReport(
  task: DeliverTask,
  context: TaskContext,
  { target, there }: { target: string; there: boolean },
): Promise<string[]> {
  const name = reportName(task, target);
  const { report } = task;
  if (name === null || report === null) return [];
  // Beside a deliverable of this job's earlier attempt stands that attempt's report, or none yet.
  if (there && !task.replace && (await lstat(name).catch(noneThere))) return ['the report was already there'];
  const write = (part: string) => writeText({ text: report, to: part });
  return placeFile({ target: name, write, task, context });
}

function reportName(task: DeliverTask, target: string): string | null {
  return task.report === null ? null : `${target}${reportSuffix}`;
}

async function requireFreeName(name: string | null, task: DeliverTask): Promise<void> {
  if (name === null || task.replace) return;
  const found = await lstat(name).catch(noneThere);
  if (found) throw nameTaken(name, found.isDirectory());
}

function nameTaken(target: string, isFolder: boolean): MillError {
  const advice = isFolder
    ? 'a folder has the name; move it or choose another name'
    : 'move it, choose another name, or submit with "replace"';
  return new MillError('destination-exists', `${target} is already there; ${advice}`, {
    details: { path: target },
  });
}

/** Beside the file itself: what a file system takes for its own tables, 16 MiB at the least. */
const spareBytes = 16 * 1024 * 1024;

async function requireSpace(target: string, bytes: number): Promise<void> {
  const folder = path.dirname(target);
  const system = await statfs(folder).catch(() => null);
  // Some network file systems tell no sizes at all; then only writing can tell.
  if (system === null || system.blocks === 0) return;
  const free = system.bavail * system.bsize;
  if (free >= bytes + spareBytes) return;
  throw new MillError(
    'no-space',
    `${folder} has ${free} bytes free and the deliverable needs ${bytes}; free some space and retry`,
    { details: { path: folder, freeBytes: free, neededBytes: bytes } },
  );
}

function noneThere(error: unknown): null {
  if (isErrno(error, 'ENOENT')) return null;
  throw error;
}
