// The judge of a test run: what CI reads must be right even when files don't load or tests hide behind a skip.
import { expect, test } from 'vitest';
import { judgeTests, type TestReport } from '../../../deploy/checks/test-report.ts';

const reportOf = (...statuses: readonly [fullName: string, status: string][]): TestReport => ({
  testResults: [
    {
      name: 'a.test.ts',
      status: 'passed',
      assertionResults: statuses.map(([fullName, status]) => ({ fullName, status })),
    },
  ],
});

test('counts what passed and failed', () => {
  const verdict = judgeTests(reportOf(['a', 'passed'], ['b', 'failed'], ['c', 'passed']), {
    skippingAllowed: false,
  });
  expect(verdict).toEqual({ closingLine: '2 passed, 1 failed', problems: [] });
});

test('a file that could not be loaded counts as a failure', () => {
  const report = { testResults: [{ name: 'a.test.ts', status: 'failed', assertionResults: [] }] };
  expect(judgeTests(report, { skippingAllowed: false }).closingLine).toBe('0 passed, 1 failed');
});

test('a run without tests is a problem', () => {
  expect(judgeTests(reportOf(), { skippingAllowed: true }).problems).toEqual(['No test was run.']);
});

test('a skipped test is a problem where every tool is there, and only named elsewhere', () => {
  const report = reportOf(['a', 'passed'], ['needs redis', 'skipped'], ['later', 'todo']);
  expect(judgeTests(report, { skippingAllowed: true })).toEqual({
    closingLine: '1 passed, 0 failed, 2 skipped',
    problems: [],
  });
  expect(judgeTests(report, { skippingAllowed: false }).problems).toEqual([
    'Skipped, but must run here: needs redis',
    'Skipped, but must run here: later',
  ]);
});

test('a test for another kind of machine may be skipped anywhere', () => {
  const report = reportOf(['a', 'passed'], ['ends the whole process tree (only on Windows)', 'skipped']);
  expect(judgeTests(report, { skippingAllowed: false }).problems).toEqual([]);
});
