// The coordinator's granary as an attempt sees it: a folder where that is proven, HTTP elsewhere. A folder that was
// proven can still be gone the next moment, so HTTP also stands in whenever the folder fails.
import { stat } from 'node:fs/promises';
import path from 'node:path';
import { MillError } from '#shared/errors.ts';
import type { GranaryFile } from '#shared/task.ts';
import { type HashedFile, hashFile } from '../tools/hash-file.ts';
import type { AgentLog } from '../tools/logger.ts';
import { flush, isErrno, moveFile } from '../tools/publish-file.ts';
import { isStale, untilAnswered } from './answer.ts';
import type { Coordinator } from './http-request.ts';
import { download, upload } from './transfer.ts';

export type GranaryOfAttempt = {
  readonly coordinator: Coordinator;
  readonly jobId: string;
  readonly attempt: number;
  /** The granary's folder on this machine, null where it isn't proven now. */
  readonly folder: () => string | null;
  readonly scratch: string;
  readonly signal: AbortSignal;
  /** The coordinator says that this attempt no longer counts. */
  readonly onStale: (reason: string) => void;
  readonly log: AgentLog;
};

/** See `Granary` of the tasks. Throws MillError `no-space`, `stale-attempt` or `internal`. */
export function openGranary(granary: GranaryOfAttempt) {
  return {
    async open(file: GranaryFile): Promise<string> {
      requirePlainPath(file.file);
      return (await findInFolder(granary, file)) ?? fetchFile(granary, file);
    },
    async store(localPath: string, name: string): Promise<GranaryFile> {
      requirePlainPath(name);
      // What will lie in the folder goes to the disk while it is hashed.
      const flushed = granary.folder() === null ? Promise.resolve() : flush(localPath);
      const [hashed] = await Promise.all([
        hashFile(localPath, granary.signal),
        // Moving it flushes again, and says what is wrong with it.
        flushed.catch(() => undefined),
      ]);
      return (
        (await moveIntoFolder(granary, { localPath, name, hashed })) ??
        sendFile(granary, { localPath, name, hashed })
      );
    },
  };
}

async function findInFolder({ folder, log }: GranaryOfAttempt, file: GranaryFile): Promise<string | null> {
  const root = folder();
  if (root === null) return null;
  const local = path.join(root, ...file.file.split('/'));
  // Another machine's file can be invisible or short for a while on a network share.
  const bytes = (await stat(local).catch(() => null))?.size ?? null;
  if (bytes === file.bytes) return local;
  log.warn(
    { file: file.file, bytes, expectedBytes: file.bytes },
    'not as expected in the granary folder, asking the coordinator',
  );
  return null;
}

async function fetchFile(
  { coordinator, scratch, signal, log }: GranaryOfAttempt,
  file: GranaryFile,
): Promise<string> {
  const localPath = path.join(scratch, `granary-${file.file.replaceAll('/', '-')}`);
  const answer = await untilAnswered(
    () => download(coordinator, { path: `v1/granary/${file.file}`, localPath, signal }),
    {
      signal,
      onSilence: (reason) => log.warn({ file: file.file, reason }, 'fetching is interrupted, trying on'),
    },
  ).catch(explainFullDisk);
  if (answer.kind === 'refused') {
    throw new MillError(
      'internal',
      `the granary does not give ${file.file}: ${answer.reason}; retry the job`,
    );
  }
  const { size } = await stat(localPath);
  if (size !== file.bytes) {
    throw new MillError(
      'internal',
      `${file.file} has ${size} bytes in the granary, recorded were ${file.bytes}; retry the job`,
    );
  }
  return localPath;
}

type Finished = { readonly localPath: string; readonly name: string; readonly hashed: HashedFile };

async function moveIntoFolder(
  { folder, jobId, attempt, log }: GranaryOfAttempt,
  { localPath, name, hashed }: Finished,
): Promise<GranaryFile | null> {
  const root = folder();
  if (root === null) return null;
  const file = `${jobId}/a${attempt}-${name}`;
  try {
    await moveFile(localPath, path.join(root, jobId, `a${attempt}-${name}`));
    return { file, ...hashed };
  } catch (error) {
    if (isErrno(error, 'ENOSPC', 'EDQUOT')) return explainFullDisk(error);
    log.warn(
      { file, reason: String(error) },
      'cannot move into the granary folder, sending to the coordinator',
    );
    return null;
  }
}

async function sendFile(
  granary: GranaryOfAttempt,
  { localPath, name, hashed }: Finished,
): Promise<GranaryFile> {
  const { coordinator, jobId, attempt, signal, log, onStale } = granary;
  const answer = await untilAnswered(
    () =>
      upload(coordinator, {
        path: `v1/attempts/${jobId}/${attempt}/files/${name}`,
        localPath,
        file: hashed,
        signal,
      }),
    { signal, onSilence: (reason) => log.warn({ file: name, reason }, 'sending is interrupted, trying on') },
  );
  if (answer.kind === 'refused') {
    if (isStale(answer)) {
      onStale(answer.reason);
      throw new MillError(
        'stale-attempt',
        `the coordinator takes no file of attempt ${attempt} any more: ${answer.reason}`,
      );
    }
    const code = answer.status === 507 ? 'no-space' : 'internal';
    throw new MillError(code, `the coordinator did not take ${name}: ${answer.reason}`);
  }
  const same = answer.value.hash.hex === hashed.hash.hex && answer.value.bytes === hashed.bytes;
  if (!same) throw new MillError('internal', `${name} arrived changed at the coordinator; retry the job`);
  return answer.value;
}

function explainFullDisk(error: unknown): never {
  if (!isErrno(error, 'ENOSPC', 'EDQUOT')) throw error;
  throw new MillError(
    'no-space',
    `the disk is full: ${(error as Error).message}; free some space and retry`,
    { cause: error },
  );
}

/** Names come in messages; none may climb out of the folder. */
function requirePlainPath(name: string): void {
  const plain = name.split('/').every((part) => /^[a-z0-9][a-zA-Z0-9._-]*$/.test(part));
  if (!plain)
    throw new MillError('bad-request', `${JSON.stringify(name)} is no name for a file in the granary`);
}
