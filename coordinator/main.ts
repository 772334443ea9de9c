// Starts the coordinator and ends it in good order. Stripped types are kept between runs; that has to be switched on
// before the rest is loaded.
import { enableCompileCache } from 'node:module';

enableCompileCache();
const { runProgram } = await import('./coordinator-program.ts');
await runProgram(process.argv.slice(2));
