// The arrows of the house: which room may import which. They point down only, and a room never imports its neighbour.
//   coordinator  main, cli → api, web, dispatch → finish, intake → ledger → plan, place → state → shared
//   agent        main → link, tasks, lanes → tools, media → shared
// Run by deploy/check.ts, which also makes sure that every file was looked at.

/** One rule: files that match `from` (and not `fromNot`) import nothing that matches `to` (and not `toNot`). */
function forbid({ name, comment, from, fromNot, to = {}, toNot }) {
  return {
    name,
    comment,
    severity: 'error',
    from: { path: from, ...(fromNot && { pathNot: fromNot }) },
    to: { ...to, ...(toNot && { pathNot: toNot }) },
  };
}

const packages = 'node_modules/';
const lower = ['ledger', 'plan', 'place', 'state'];
const pure = '^(shared/|coordinator/(plan|place|state)/|agent/media/)';

/**
 * A room imports its own files, the rooms below it and packages; what else is under `house` is out of bounds. Only a
 * port (`…-ports.ts`) may be named from beside, as a type: whoever fills a port has to know its shape.
 */
function roomRule(house, room, below) {
  return forbid({
    name: `${house}-${room}`,
    comment: `${house}/${room} imports only its own files, ${[...below, 'shared'].join(', ')} and packages`,
    from: `^${house}/${room}/`,
    to: { path: `^(${house}|deploy|test)/` },
    toNot: [`^${house}/(${[room, ...below].join('|')})/`, `^${house}/[^/]+/[^/]+-ports\\.ts$`],
  });
}

/** What a port file gives away is its types: an import of a value from it would tie the rooms together. */
const portsAreTypes = (house) =>
  forbid({
    name: `${house}-ports-are-types`,
    comment: 'from another room, a port is imported as a type only',
    from: `^${house}/([^/]+)/`,
    to: { path: `^${house}/[^/]+/[^/]+-ports\\.ts$`, dependencyTypesNot: ['type-only'] },
    toNot: `^${house}/$1/`,
  });

module.exports = {
  forbidden: [
    forbid({ name: 'no-cycle', comment: 'files never import each other in a ring', to: { circular: true } }),
    forbid({ name: 'resolvable', comment: 'every import leads to a file', to: { couldNotResolve: true } }),
    forbid({
      name: 'shared-is-a-leaf',
      comment: 'shared imports nothing of ours',
      from: '^shared/',
      to: { path: '^(coordinator|agent|deploy|test)/' },
    }),
    forbid({
      name: 'agent-knows-no-coordinator',
      comment: 'coordinator and agent meet only in the contracts of shared',
      from: '^agent/',
      to: { path: '^coordinator/' },
    }),
    forbid({
      name: 'coordinator-knows-no-agent',
      comment: 'coordinator and agent meet only in the contracts of shared',
      from: '^coordinator/',
      to: { path: '^agent/' },
    }),
    forbid({
      name: 'deploy-stays-outside',
      comment: 'deploy starts the programs from outside, so it imports only shared',
      from: '^deploy/',
      to: { path: '^(coordinator|agent|test)/' },
    }),
    forbid({
      name: 'nothing-imports-test',
      comment: 'only tests import test code',
      from: '^(coordinator|agent|shared|deploy)/',
      to: { path: '^test/' },
    }),
    forbid({
      name: 'roots-are-not-imported',
      comment: 'a composition root is started, never imported',
      from: '^(coordinator|agent|shared|deploy)/',
      fromNot: '^coordinator/(main\\.ts|cli/)',
      to: { path: '^((coordinator|agent)/main\\.ts|coordinator/cli/)' },
    }),
    ...['api', 'web', 'intake', 'finish'].map((room) => roomRule('coordinator', room, lower)),
    roomRule('coordinator', 'dispatch', ['finish', ...lower]),
    roomRule('coordinator', 'ledger', ['plan', 'place', 'state']),
    roomRule('coordinator', 'plan', ['state']),
    roomRule('coordinator', 'place', ['state']),
    roomRule('coordinator', 'state', []),
    ...['link', 'tasks', 'lanes'].map((room) => roomRule('agent', room, ['tools', 'media'])),
    roomRule('agent', 'tools', ['media']),
    roomRule('agent', 'media', []),
    portsAreTypes('coordinator'),
    portsAreTypes('agent'),
    forbid({
      name: 'pure-no-node',
      comment: 'pure rooms do no input or output',
      from: pure,
      to: { dependencyTypes: ['core'] },
    }),
    forbid({
      name: 'pure-no-package-but-zod',
      comment: 'pure rooms use no package but zod',
      from: pure,
      to: { path: packages },
      toNot: `${packages}zod/`,
    }),
    forbid({
      name: 'no-dev-dependency',
      comment: 'what runs in production uses no package that is there for development only',
      from: '^(coordinator|agent|shared)/',
      to: { dependencyTypes: ['npm-dev', 'npm-no-pkg', 'npm-unknown'] },
    }),
  ],
  options: {
    doNotFollow: { path: packages },
    tsPreCompilationDeps: true,
    tsConfig: { fileName: 'tsconfig.json' },
    enhancedResolveOptions: { conditionNames: ['import', 'node', 'default'], exportsFields: ['exports'] },
  },
};
