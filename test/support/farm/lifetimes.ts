// A farm that lives as long as a test, or as long as a suite of tests.
import { afterAll, afterEach, beforeAll, onTestFinished } from 'vitest';
import { Farm, type FarmOptions } from './farm.ts';

/** Call inside a test. */
export async function startFarm(options: FarmOptions): Promise<Farm> {
  const farm = await Farm.start(options);
  onTestFinished(({ task }) => farm.stop({ failed: task.result?.state === 'fail' }));
  return farm;
}

/** Call at the top of a file or of a `describe`; the answer gives the farm to its tests. */
export function farmOfSuite(options: FarmOptions): () => Farm {
  let farm: Farm | null = null;
  let failed = false;
  beforeAll(async () => {
    farm = await Farm.start(options);
  });
  afterEach(({ task }) => {
    failed ||= task.result?.state === 'fail';
  });
  afterAll(() => farm?.stop({ failed }));
  return () => {
    if (farm === null) throw new Error('the farm is not running yet');
    return farm;
  };
}
