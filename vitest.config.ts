// The kinds of tests, from quick and pure to whole-way, run in this order. Name one with `vitest run --project unit`.
// The long ones run only when they are asked for: `npm run test:long`.
import { defineConfig, type TestProjectInlineConfiguration } from 'vitest/config';

const MINUTE_MS = 60_000;

export default defineConfig({
  test: {
    projects: [
      project({ name: 'unit', folders: ['unit'], order: 1, timeoutMs: MINUTE_MS / 6 }),
      project({ name: 'contract', folders: ['contract'], order: 2, timeoutMs: MINUTE_MS }),
      project({ name: 'integration', folders: ['integration'], order: 3, timeoutMs: 2 * MINUTE_MS }),
      project({
        name: 'e2e',
        folders: ['e2e', 'faults', 'hosts', 'browser'],
        order: 4,
        timeoutMs: 4 * MINUTE_MS,
      }),
      ...(process.env['NIGHTMILL_LONG_TESTS'] === undefined
        ? []
        : [project({ name: 'long', folders: ['long'], order: 5, timeoutMs: 10 * MINUTE_MS })]),
    ],
  },
});

interface Project {
  readonly name: string;
  readonly folders: readonly string[];
  /** Projects run one after the other, the smallest number first. */
  readonly order: number;
  readonly timeoutMs: number;
}

function project({ name, folders, order, timeoutMs }: Project): TestProjectInlineConfiguration {
  return {
    test: {
      name,
      include: folders.map((folder) => `test/${folder}/**/*.test.ts`),
      environment: 'node',
      // Encoders and servers use the cores themselves; more files at once only make each other late.
      maxWorkers: 2,
      sequence: { groupOrder: order },
      testTimeout: timeoutMs,
      hookTimeout: timeoutMs,
    },
  };
}
