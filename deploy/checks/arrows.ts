// Makes sure that the arrow check looked at the code: dependency-cruiser is content with zero modules when it
// can't read TypeScript, and a gate that sees nothing must not pass.
import { globSync } from 'node:fs';

/** Says what is wrong with the output of a dependency-cruiser run without violations, or null. */
export function arrowsProblem(output: string): string | null {
  const cruised = Number(/\((\d+) modules, \d+ dependencies cruised\)/.exec(output)?.[1] ?? 0);
  const files = globSync('{coordinator,agent,shared,deploy,test}/**/*.ts').length;
  return cruised >= files && cruised > 0
    ? null
    : `dependency-cruiser looked at ${cruised} modules, but there are ${files} files to check:\n${output}`;
}
