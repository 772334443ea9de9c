// Lines that redis-server 7.0.15 really wrote.
import { expect, it } from 'vitest';
import { createRedisLog } from '../../../../coordinator/dispatch/redis-log.ts';

const start = [
  '100:C 25 Nov 2026 09:45:11.979 # oO0OoO0OoO0Oo Redis is starting oO0OoO0OoO0Oo',
  '100:C 25 Nov 2026 09:45:11.979 # Configuration loaded',
  '100:M 25 Nov 2026 09:45:11.980 # WARNING Memory overcommit must be enabled! Without it, a background save or replication may fail under low memory condition.',
];

it.each([
  [
    'the first line that tells of trouble, without time and level',
    [
      ...start,
      '100:M 25 Nov 2026 09:45:11.980 # Warning: Could not create server TCP listening socket 127.0.0.1:7999: bind: Address already in use',
      '100:M 25 Nov 2026 09:45:11.980 # Failed listening on port 7999 (TCP), aborting.',
    ],
    'Warning: Could not create server TCP listening socket 127.0.0.1:7999: bind: Address already in use',
  ],
  [
    'all that is said about a configuration that it does not take',
    [
      '',
      '*** FATAL CONFIG FILE ERROR (Redis 7.0.15) ***',
      'Reading the configuration file, at line 3',
      `>>> 'dir "/x"'`,
      'No such file or directory',
    ],
    `Reading the configuration file, at line 3 >>> 'dir "/x"' No such file or directory`,
  ],
  [
    'the last line when none tells of trouble',
    [...start, '100:M 25 Nov 2026 09:45:12.100 * Ready to accept connections'],
    'Ready to accept connections',
  ],
  ['nothing when there was nothing', [], ''],
])('says %s', (_, said, decisive) => {
  const log = createRedisLog();
  for (const line of said) log.add(line);
  expect(log.decisiveLine()).toBe(decisive);
});
