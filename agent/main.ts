// Starts the agent. Compiled code and stripped types are kept between runs, which halves the start-up; that has to be
// switched on before the rest is loaded.
import { enableCompileCache } from 'node:module';

enableCompileCache();
const { runProgram } = await import('./agent-program.ts');
await runProgram(process.argv.slice(2));
