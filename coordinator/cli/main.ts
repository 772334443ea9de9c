// The command line as a program. Run by `npm run -s nightmill -- WORDS`. Stripped types are kept between runs; that has
// to be switched on before the rest is loaded.
import { enableCompileCache } from 'node:module';

enableCompileCache();
// npm runs its scripts in the project's folder; paths are meant from where the user stands.
const { npm_lifecycle_event: script, INIT_CWD: whereTheUserStands } = process.env;
if (script === 'nightmill' && whereTheUserStands) process.chdir(whereTheUserStands);
const [{ runCommandLine }, { openTerminal }] = await Promise.all([
  import('./run-command-line.ts'),
  import('./terminal.ts'),
]);
const exitCode = await runCommandLine(process.argv.slice(2), openTerminal());
// Nothing may keep the process now; what was written has to be out before it ends.
process.stdout.write('', () => process.exit(exitCode));
