// The commands and their options. What a command does is loaded when it is asked for, so that each starts quickly.
import { fileURLToPath } from 'node:url';
import { Command, InvalidArgumentError } from 'commander';
import type { Client } from './client.ts';
import type { ConnectOptions } from './connect.ts';
import { CommandError, exitCodes } from './exit-codes.ts';
import type { Terminal } from './terminal.ts';

const coordinatorProgram = fileURLToPath(new URL('../main.ts', import.meta.url));
const agentProgram = fileURLToPath(new URL('../../agent/main.ts', import.meta.url));

/** Builds the command line. `end` is told the exit code of the command that ran. */
export function buildProgram(terminal: Terminal, end: (exitCode: number) => void): Command {
  const program = new Command('nightmill')
    .description('Pools the machines of a small studio overnight to encode long sources.')
    .enablePositionalOptions()
    .exitOverride()
    .configureOutput({
      writeOut: (text) => terminal.out(text.trimEnd()),
      writeErr: (text) => terminal.err(text.trimEnd().replace(/^error: /, 'nightmill: ')),
    });
  addOnce(program, terminal, end);
  addPrograms(program, end);
  addEditorCommands(program, terminal, end);
  addAdminCommands(program, terminal);
  return program;
}

function addOnce(program: Command, terminal: Terminal, end: (exitCode: number) => void): void {
  program
    .command('once')
    .description('encode on this machine, with a farm that lives for this call only')
    .argument('<sources...>', 'files to encode')
    .requiredOption('--format <name>', 'house format')
    .requiredOption('--to <folder>', 'where the deliverables go')
    .option('--agents <number>', 'agents to share the work', wholeNumber(1, 64), 1)
    .option('--data <folder>', 'keep ledger, grains and logs here instead of in a temporary folder')
    .option('--json', 'print the reports as JSON on the last line')
    .action(async (sources: string[], options) => {
      const { once } = await import('./commands/once.ts');
      end(await once(sources, options, terminal));
    });
}

/** These two take their options themselves. */
function addPrograms(program: Command, end: (exitCode: number) => void): void {
  const passOn = (name: string, description: string, file: string) =>
    program
      .command(name)
      .description(description)
      .argument('[words...]', 'its own options; --help lists them')
      .helpOption(false)
      .allowUnknownOption()
      .passThroughOptions()
      .action(async (words: string[]) => {
        const { become } = await import('./become.ts');
        end(await become(file, words));
      });
  passOn('coordinator', 'serve until stopped', coordinatorProgram);
  passOn('agent', 'lend this machine to a coordinator', agentProgram);
}

function addEditorCommands(program: Command, terminal: Terminal, end: (exitCode: number) => void): void {
  asking(program, 'submit', 'send sources to the coordinator')
    .argument('<sources...>', 'volume paths, such as rushes:day03/A001.mov')
    .requiredOption('--format <name>', 'house format')
    .requiredOption('--to <folder>', 'volume path of the folder to deliver to')
    .option('--priority <number>', 'higher goes first', wholeNumber(-100, 100), 0)
    .option('--replace', 'replace a file of that name at the destination')
    .option('--key <text>', 'make no second job when the same request is sent again with this key')
    .option('--wait', 'wait until all are delivered, and print their reports')
    .action(async (sources: string[], options) => {
      const [{ submit }, client] = await Promise.all([
        import('./commands/submit.ts'),
        open(options, terminal),
      ]);
      end(await submit(client, { sources, ...options }, terminal));
    });
  asking(program, 'jobs', 'list jobs, newest first')
    .option('--state <state>', 'only those in this state')
    .option('--batch <id>', 'only those of this batch')
    .option('--limit <number>', 'at most so many', wholeNumber(1, 100_000), 50)
    .action(async (options) => {
      const [{ listJobs }, client] = await Promise.all([
        import('./commands/jobs.ts'),
        open(options, terminal),
      ]);
      await listJobs(client, options, terminal);
    });
  asking(program, 'job', 'everything about one job')
    .argument('<id>')
    .action(async (id: string, options) => {
      const [{ showJob }, client] = await Promise.all([import('./commands/job.ts'), open(options, terminal)]);
      await showJob(client, { id, ...options }, terminal);
    });
  for (const [action, description] of [
    ['cancel', 'stop a job for good'],
    ['retry', 'work on a held or failed job again'],
  ] as const) {
    asking(program, action, description)
      .argument('<id>')
      .action(async (id: string, options) => {
        const [{ changeJob }, client] = await Promise.all([
          import('./commands/job.ts'),
          open(options, terminal),
        ]);
        await changeJob(client, { id, action, ...options }, terminal);
      });
  }
}

function addAdminCommands(program: Command, terminal: Terminal): void {
  for (const [name, show, description] of [
    ['machines', 'listMachines', 'machines that lend their encoders'],
    ['lanes', 'listLanes', 'every way in which they can encode, proven or not, and why'],
    ['formats', 'listFormats', 'house formats'],
    ['forecast', 'showForecast', 'when the work will be done, as far as anyone can know'],
  ] as const) {
    asking(program, name, description).action(async (options) => {
      const [farm, client] = await Promise.all([import('./commands/farm.ts'), open(options, terminal)]);
      await farm[show](client, options, terminal);
    });
  }
  asking(program, 'report', 'what was made, by whom, and how it was checked')
    .argument('[ids...]', 'jobs; without any, the newest that came to rest')
    .option('--limit <number>', 'at most so many when no job is named', wholeNumber(1, 1000), 10)
    .action(async (ids: string[], options) => {
      const [{ showReports }, client] = await Promise.all([
        import('./commands/report.ts'),
        open(options, terminal),
      ]);
      await showReports(client, { ids, ...options }, terminal);
    });
  program
    .command('simulate')
    .description('try out a night on paper (not there yet)')
    .argument('<file>')
    .action(() => {
      throw new CommandError(
        exitCodes.wrongRequest,
        'simulate is not there yet; forecast tells when the work of the running farm will be done',
      );
    });
}

/** A command that asks a running coordinator. */
function asking(program: Command, name: string, description: string): Command {
  return program
    .command(name)
    .description(description)
    .option('--coordinator <url>', 'address of the coordinator (default: NIGHTMILL_URL, or this machine)')
    .option('--json', 'print JSON');
}

async function open(options: ConnectOptions, terminal: Terminal): Promise<Client> {
  const { connect } = await import('./connect.ts');
  return connect(options, terminal);
}

function wholeNumber(least: number, most: number): (text: string) => number {
  return (text) => {
    const number = Number(text);
    if (text.trim() === '' || !Number.isInteger(number) || number < least || number > most) {
      throw new InvalidArgumentError(`expected a whole number from ${least} to ${most}`);
    }
    return number;
  };
}
