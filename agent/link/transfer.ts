// Moves whole files between agent and coordinator over HTTP, for machines that don't see the granary's folder.
import { createReadStream, createWriteStream } from 'node:fs';
import { text } from 'node:stream/consumers';
import { pipeline } from 'node:stream/promises';
import { z } from 'zod';
import { type GranaryFile, granaryFileSchema } from '#shared/task.ts';
import type { HashedFile } from '../tools/hash-file.ts';
import { isErrno } from '../tools/publish-file.ts';
import type { Answer } from './answer.ts';
import { readAnswer, reasonOf } from './coordinator-client.ts';
import { beginRequest, type Coordinator, responseOf } from './http-request.ts';

export type Upload = {
  readonly path: string;
  readonly localPath: string;
  readonly file: HashedFile;
  readonly signal: AbortSignal;
};

/** PUT of one file; the coordinator counts and hashes again what arrives. */
export async function upload(
  coordinator: Coordinator,
  { path, localPath, file, signal }: Upload,
): Promise<Answer<GranaryFile>> {
  try {
    const request = beginRequest(coordinator, {
      method: 'PUT',
      path,
      headers: {
        'content-type': 'application/octet-stream',
        'content-length': String(file.bytes),
        'x-content-xxh128': file.hash.hex,
      },
      signal,
    });
    // An early refusal (stale attempt, no space) comes while we still send; it must be read all the same.
    const [response] = await Promise.all([
      responseOf(request),
      pipeline(createReadStream(localPath), request, { signal }).catch((error: unknown) => void error),
    ]);
    return readAnswer(response.statusCode ?? 0, await text(response), granaryFileSchema);
  } catch (error) {
    return silent(error);
  }
}

export type Download = { readonly path: string; readonly localPath: string; readonly signal: AbortSignal };

/** GET of one file into `localPath`, replacing what a broken try left there. The caller compares size and hash. */
export async function download(
  coordinator: Coordinator,
  { path, localPath, signal }: Download,
): Promise<Answer<null>> {
  try {
    const request = beginRequest(coordinator, { method: 'GET', path, signal });
    request.end();
    const response = await responseOf(request);
    const status = response.statusCode ?? 0;
    if (status !== 200) return readAnswer(status, await text(response), z.never());
    await pipeline(response, createWriteStream(localPath), { signal });
    return { kind: 'ok', value: null };
  } catch (error) {
    return silent(error);
  }
}

/** The network may be better at the next try; this machine's own disk won't. */
function silent(error: unknown): Answer<never> {
  if (isErrno(error, 'ENOENT', 'EACCES', 'EIO', 'ENOSPC', 'EDQUOT', 'EROFS')) throw error;
  return { kind: 'silent', reason: reasonOf(error) };
}
