// The four kinds of tests, from quick and pure to whole-way. Name one with `vitest run --project unit`.
import { defineConfig, type TestProjectInlineConfiguration } from 'vitest/config';

const MINUTE_MS = 60_000;

export default defineConfig({
  test: {
    maxWorkers: 2,
    projects: [
      project('unit', ['unit'], { timeoutMs: 10_000 }),
      project('contract', ['contract'], { timeoutMs: 1 * MINUTE_MS }),
      project('integration', ['integration'], { timeoutMs: 2 * MINUTE_MS }),
      project('e2e', ['e2e', 'faults', 'hosts', 'browser'], { timeoutMs: 4 * MINUTE_MS }),
    ],
  },
});

function project(
  name: string,
  folders: readonly string[],
  { timeoutMs }: { timeoutMs: number },
): TestProjectInlineConfiguration {
  return {
    test: {
      name,
      include: folders.map((folder) => `test/${folder}/**/*.test.ts`),
      environment: 'node',
      testTimeout: timeoutMs,
      hookTimeout: timeoutMs,
    },
  };
}
