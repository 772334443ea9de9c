// A folder of its own for a test, removed afterwards unless the test failed: then it is kept for looking at.
import { mkdtemp, realpath, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';

/** Call inside a test. */
export async function tempFolder(): Promise<string> {
  // On macOS and Windows the system's own name for its temporary folder is another than the real one.
  const folder = await mkdtemp(join(await realpath(tmpdir()), 'nightmill-test-'));
  onTestFinished(async ({ task }) => {
    if (task.result?.state === 'fail') console.error(`kept for looking at: ${folder}`);
    else await rm(folder, { recursive: true, force: true, maxRetries: 5 });
  });
  return folder;
}
