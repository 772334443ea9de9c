// Makes test sources on demand and keeps them in a folder named after the recipes, so that a run finds
// the files of the last one and a changed recipe never meets a stale file.
import { createHash } from 'node:crypto';
import { mkdir } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { execa } from 'execa';
import { allRecipes } from './all-recipes.ts';
import { expectationOf } from './expectation.ts';
import { makeFileOnce } from './make-file-once.ts';
import { recipeCommands } from './recipe-commands.ts';
import type { SourceExpectation, SourceRecipe } from './source-recipe.ts';

export type SourceName = keyof typeof allRecipes;

export type Source = {
  readonly name: SourceName;
  readonly path: string;
  readonly what: string;
  readonly expected: SourceExpectation;
};

const encodeTimeoutMs = 240_000;

export const sourceNames = Object.keys(allRecipes) as readonly SourceName[];

/** Where sources are kept when the caller names no folder. */
export const sourcesFolder = join(tmpdir(), `nightmill-sources-${recipesVersion()}`);

/**
 * The named source, made now if it doesn't exist yet. Safe to call from several processes at once:
 * the file appears under its name complete or not at all. Rejects with FFmpeg's message if it can't be made.
 */
export async function makeSource(name: SourceName, folder: string = sourcesFolder): Promise<Source> {
  const recipe: SourceRecipe = allRecipes[name];
  await mkdir(folder, { recursive: true });
  const path = join(folder, `${name}.${recipe.extension}`);
  await makeFileOnce(path, (draftPath) => runRecipe(recipe, draftPath));
  return { name, path, what: recipe.what, expected: expectationOf(recipe) };
}

async function runRecipe(recipe: SourceRecipe, path: string): Promise<void> {
  for (const command of recipeCommands(recipe, path)) {
    await execa('ffmpeg', command, { timeout: encodeTimeoutMs });
  }
}

/** The commands, not the recipes alone: a change of the pattern makes new files too. */
function recipesVersion(): string {
  const commands = Object.values<SourceRecipe>(allRecipes).map((recipe) => recipeCommands(recipe, 'out'));
  return createHash('sha256').update(JSON.stringify(commands)).digest('hex').slice(0, 12);
}
