// The agent's lasting identity: an id that stays the same over restarts, kept in the state folder under its name.
import { randomBytes } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import path from 'node:path';
import { agentIdSchema } from '#shared/schema-parts.ts';
import { writeWhole } from './publish-file.ts';

export type AgentHome = { readonly agentId: string; readonly scratchRoot: string };

/** The folder that one agent has for itself below the state folder, which several agents of a machine may share. */
export function homeFolder(stateFolder: string, name: string): string {
  return path.join(stateFolder, 'agents', slugOf(name));
}

/** Reads the id, or makes one the first time. Only for the process that holds `home` (see hold-name.ts). */
export async function openHome(home: string): Promise<AgentHome> {
  const file = path.join(home, 'id');
  const scratchRoot = path.join(home, 'scratch');
  const kept = agentIdSchema.safeParse((await readFile(file, 'utf8').catch(() => '')).trim());
  if (kept.success) return { agentId: kept.data, scratchRoot };
  const agentId = `${path.basename(home)}-${randomBytes(4).toString('hex')}`;
  await writeWhole(file, `${agentId}\n`);
  return { agentId, scratchRoot };
}

/** `Edit Suite 2` → `edit-suite-2`: letters that every file system and the agent id allow. */
export function slugOf(name: string): string {
  const slug = name
    .toLowerCase()
    .replaceAll(/[^a-z0-9]+/g, '-')
    .replaceAll(/^-+|-+$/g, '')
    .slice(0, 40);
  return slug === '' ? 'agent' : slug;
}
