// The command line as a program. Run by `npm run -s nightmill -- WORDS`.
import { runCommandLine } from './run-command-line.ts';
import { openTerminal } from './terminal.ts';

const exitCode = await runCommandLine(process.argv.slice(2), openTerminal());
// Nothing may keep the process now; what was written has to be out before it ends.
process.stdout.write('', () => process.exit(exitCode));
