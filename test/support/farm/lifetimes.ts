// A farm that lives as long as a test, or as long as a file of tests.
import { afterAll, beforeAll, onTestFinished } from 'vitest';
import { Farm, type FarmOptions } from './farm.ts';

/** Call inside a test. */
export async function startFarm(options: FarmOptions): Promise<Farm> {
  const farm = await Farm.start(options);
  onTestFinished(({ task }) => farm.stop({ failed: task.result?.state === 'fail' }));
  return farm;
}

/** Call at the top of a file; the answer gives the farm to its tests. */
export function farmOfThisFile(options: FarmOptions): () => Farm {
  let farm: Farm | null = null;
  beforeAll(async () => {
    farm = await Farm.start(options);
  });
  afterAll(async (_context, file) => {
    await farm?.stop({ failed: hasFailed(file) });
  });
  return () => {
    if (farm === null) throw new Error('the farm is not running yet');
    return farm;
  };
}

type Task = { readonly result?: { readonly state: string }; readonly tasks?: readonly Task[] };

function hasFailed(task: Task): boolean {
  return task.result?.state === 'fail' || (task.tasks ?? []).some(hasFailed);
}
