// Deleting in the granary. Only job folders and the files in them are ever deleted; what else lies there stays.
import { randomUUID } from 'node:crypto';
import { readdir, rename, rm, rmdir } from 'node:fs/promises';
import { join } from 'node:path';
import { jobIdSchema } from '#shared/schema-parts.ts';
import type { KeptFiles } from './granary-kept.ts';
import { parseGranaryName } from './granary-names.ts';

const swept = '.swept-';

/** Deletes a job's folder. It is renamed first, so that what is stored for the job from now on isn't hit. */
export async function sweepJob(root: string, jobId: string): Promise<void> {
  const folder = join(root, jobIdSchema.parse(jobId));
  const aside = join(root, `${swept}${randomUUID()}`);
  const renamed = await rename(folder, aside).then(
    () => true,
    () => false,
  );
  // Where a reader keeps the folder from being renamed, as on Windows, its files go one by one. A link goes, not its target.
  await rm(renamed ? aside : folder, { recursive: true, force: true, maxRetries: 3 });
}

/** Deletes all files of all jobs but those that are kept, and what earlier sweeps left. For the start of the coordinator. */
export async function sweepOrphans(root: string, known: (jobId: string) => KeptFiles): Promise<void> {
  for (const entry of await readdir(root, { withFileTypes: true })) {
    if (entry.name.startsWith(swept)) await rm(join(root, entry.name), { recursive: true, force: true });
    else if (entry.isDirectory() && jobIdSchema.safeParse(entry.name).success) {
      await sweepFolder(root, entry.name, known(entry.name));
    }
  }
}

async function sweepFolder(root: string, jobId: string, kept: KeptFiles): Promise<void> {
  const isKept = (file: string) =>
    kept.files.has(file) || kept.attempts.has(parseGranaryName(file)?.attempt ?? 0);
  for (const name of await readdir(join(root, jobId))) {
    const file = `${jobId}/${name}`;
    if (!isKept(file)) await rm(join(root, file), { recursive: true, force: true });
  }
  // Stays when something is left in it.
  await rmdir(join(root, jobId)).catch(() => undefined);
}
