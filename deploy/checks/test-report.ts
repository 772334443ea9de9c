// Reads vitest's report of a run and judges it: the closing line that CI reads, and tests that were not run.
import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { z } from 'zod';

/** The part of vitest's JSON report that is used here. A file that could not be loaded has no assertion results. */
const testReportSchema = z.object({
  testResults: z.array(
    z.object({
      name: z.string(),
      status: z.string(),
      assertionResults: z.array(z.object({ fullName: z.string(), status: z.string() })),
    }),
  ),
});

export type TestReport = z.infer<typeof testReportSchema>;

export interface TestVerdict {
  /** `12 passed, 0 failed, 1 skipped`. */
  readonly closingLine: string;
  readonly problems: readonly string[];
}

/** A run that was cut short leaves no report: that reads as one without tests. */
export async function readTestReport(file: string): Promise<TestReport> {
  if (!existsSync(file)) return { testResults: [] };
  return testReportSchema.parse(JSON.parse(await readFile(file, 'utf8')));
}

/**
 * A test that is skipped proves nothing, so where skipping is not allowed (CI, which has every tool) it is a problem.
 * Only a title that ends with "(only on …)" may skip everywhere: it belongs to another kind of machine.
 */
export function judgeTests(
  report: TestReport,
  { skippingAllowed }: { skippingAllowed: boolean },
): TestVerdict {
  const tests = report.testResults.flatMap((file) => file.assertionResults);
  const unloadable = report.testResults.filter(
    (file) => file.status === 'failed' && file.assertionResults.length === 0,
  );
  const passed = tests.filter((test) => test.status === 'passed').length;
  const failed = tests.filter((test) => test.status === 'failed').length + unloadable.length;
  const skipped = tests.filter((test) => test.status !== 'passed' && test.status !== 'failed');
  const unexpected = skippingAllowed
    ? []
    : skipped.filter((test) => !/\(only on [^)]+\)$/.test(test.fullName));
  return {
    closingLine: `${passed} passed, ${failed} failed${skipped.length > 0 ? `, ${skipped.length} skipped` : ''}`,
    problems: [
      ...(passed + failed === 0 ? ['No test was run.'] : []),
      ...unexpected.map((test) => `Skipped, but must run here: ${test.fullName}`),
    ],
  };
}
