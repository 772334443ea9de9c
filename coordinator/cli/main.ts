// The command line as a program. Run by `npm run -s nightmill -- WORDS`.
import { runCommandLine } from './run-command-line.ts';
import { openTerminal } from './terminal.ts';

process.exitCode = await runCommandLine(process.argv.slice(2), openTerminal());
