// Starts the agent, quick to come and small while it stays: it is a guest on its machine.
import { enableCompileCache } from 'node:module';
import { setFlagsFromString } from 'node:v8';

// Compiled code and stripped types are kept between runs, which halves the start-up.
enableCompileCache();
await import('#shared/link.ts');
// From here on garbage is collected often rather than let grow. Measured while films of ten minutes were inspected, two at
// a time: 283 MB at the most became 147 MB. Said earlier it would slow the start-up.
setFlagsFromString('--semi-space-growth-factor=1');
setFlagsFromString('--heap-growing-percent=20');
const { runProgram } = await import('./agent-program.ts');
await runProgram(process.argv.slice(2));
