// Runs what has to hold before a change lands: types, format, lint, arrows, unused code and, with --tests, the tests.
// It is the same on every machine: `npm run check`, `npm test` and CI all come here.
//   node deploy/check.ts [--tests [arguments for vitest …]]
import { rm } from 'node:fs/promises';
import { execa } from 'execa';
import { arrowsProblem } from './checks/arrows.ts';
import { judgeTests, readTestReport } from './checks/test-report.ts';

const CHECK_LIMIT_MS = 5 * 60_000;
const TESTS_LIMIT_MS = 30 * 60_000;
const REPORT_FILE = 'node_modules/.cache/test-report.json';

interface Check {
  readonly name: string;
  readonly command: readonly [string, ...string[]];
  /** Looks at the output of a run that ended well; says what is wrong with it, or null. */
  readonly problem?: (output: string) => string | null;
}

const CHECKS: readonly Check[] = [
  { name: 'types', command: ['tsc', '--project', '.'] },
  { name: 'format', command: ['biome', 'check', '--error-on-warnings', '.'] },
  { name: 'lint', command: ['oxlint'] },
  {
    name: 'arrows',
    command: [
      'depcruise',
      '--config',
      '.dependency-cruiser.cjs',
      'coordinator',
      'agent',
      'shared',
      'deploy',
      'test',
    ],
    problem: arrowsProblem,
  },
  { name: 'unused', command: ['knip'] },
];

const [mode, ...testArguments] = process.argv.slice(2);
process.exitCode = await runAll();

async function runAll(): Promise<0 | 1> {
  const passed = await Promise.all(CHECKS.map(runCheck));
  const failed = CHECKS.filter((_check, index) => !passed[index]).map((check) => check.name);
  if (failed.length > 0) {
    console.log(`\nFailed: ${failed.join(', ')}.${mode === '--tests' ? ' The tests were not started.' : ''}`);
    return 1;
  }
  return mode === '--tests' ? runTests() : 0;
}

/** The checks need nothing from each other, so they run side by side; each speaks once, when it is done. */
async function runCheck(check: Check): Promise<boolean> {
  const [program, ...args] = check.command;
  const result = await execa(program, args, {
    preferLocal: true,
    reject: false,
    all: true,
    stdin: 'ignore',
    timeout: CHECK_LIMIT_MS,
  });
  const problem = result.failed ? explainFailure(result) : (check.problem?.(result.all) ?? null);
  const seconds = (result.durationMs / 1000).toFixed(1);
  console.log(
    problem === null
      ? `ok      ${check.name} (${seconds} s)`
      : `FAILED  ${check.name} (${seconds} s)\n${problem}`,
  );
  return problem === null;
}

interface FailedRun {
  readonly exitCode?: number | undefined;
  readonly shortMessage?: string | undefined;
  readonly all: string;
}

/** A tool that ended by itself has said why; one that could not start or ran out of time has not. */
function explainFailure({ exitCode, shortMessage, all }: FailedRun): string {
  return exitCode === undefined ? `${shortMessage}\n${all}` : all;
}

async function runTests(): Promise<0 | 1> {
  await rm(REPORT_FILE, { force: true }); // what an earlier run left must not speak for this one
  const reporters = ['--reporter=default', '--reporter=json', `--outputFile.json=${REPORT_FILE}`];
  const result = await execa('vitest', ['run', ...reporters, ...testArguments], {
    preferLocal: true,
    reject: false,
    stdin: 'ignore',
    stdout: 'inherit',
    stderr: 'inherit',
    timeout: TESTS_LIMIT_MS,
  });
  if (result.exitCode === undefined) console.log(`\nFailed: tests. ${result.shortMessage}`);
  const verdict = judgeTests(await readTestReport(REPORT_FILE), {
    skippingAllowed: process.env['CI'] === undefined,
  });
  console.log(`\n${[...verdict.problems, verdict.closingLine].join('\n')}`);
  return result.failed || verdict.problems.length > 0 ? 1 : 0;
}
