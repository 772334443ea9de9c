// What we remember of our Redis from one start to the next: its port and its passwords, so that agents find it again,
// and its process, so that one that outlived us is ended before another works on the same files.
import { randomBytes } from 'node:crypto';
import { readFile, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';

const keepsakeSchema = z.strictObject({
  port: z.int().positive(),
  password: z.string().min(32),
  keeperPassword: z.string().min(32),
  /** 0 while none runs. */
  pid: z.int().nonnegative(),
});
export type RedisKeepsake = z.infer<typeof keepsakeSchema>;

const fileName = 'server.json';

/** Null when there is none that can be read. */
export async function readKeepsake(folder: string): Promise<RedisKeepsake | null> {
  try {
    return keepsakeSchema.parse(JSON.parse(await readFile(join(folder, fileName), 'utf8')));
  } catch {
    return null;
  }
}

/** Only the owner may read the file: whoever knows the passwords can change what machines encode. */
export async function writeKeepsake(folder: string, keepsake: RedisKeepsake): Promise<void> {
  const file = join(folder, fileName);
  await writeFile(`${file}.new`, JSON.stringify(keepsake), { mode: 0o600, flush: true });
  await rename(`${file}.new`, file);
}

export function newPassword(): string {
  return randomBytes(24).toString('hex');
}
