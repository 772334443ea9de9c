// Starts a Redis of our own in the folder given, says its process id, and then waits to be killed.

import { readKeepsake } from '../../../coordinator/dispatch/redis-keepsake.ts';
import { startRedisServer } from '../../../coordinator/dispatch/redis-server.ts';

const [folder = ''] = process.argv.slice(2);
await startRedisServer({ folder, bind: '127.0.0.1', log: { warn: console.error, error: console.error } });
const keepsake = await readKeepsake(folder);
process.stdout.write(`${keepsake?.pid}\n`);
