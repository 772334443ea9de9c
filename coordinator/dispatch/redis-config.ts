// The configuration of our own Redis. It goes in by standard input, so that no secret is seen in a list of processes.
import { createHash } from 'node:crypto';
import { MillError } from '#shared/errors.ts';

export type RedisConfig = {
  readonly folder: string;
  /** Address on which agents reach it; loopback is always served too. */
  readonly bind: string;
  readonly port: number;
  /** Of the user `default`: the coordinator and the agents. */
  readonly password: string;
  /** Of the user `keeper`, who may also look at the configuration and end the server. Stays on this machine. */
  readonly keeperPassword: string;
};

/** The text of redis.conf. Throws MillError `bad-config` for an address that can't be one. */
export function writeRedisConfig(config: RedisConfig): string {
  return [
    `bind ${bindAddresses(config.bind)}`,
    `port ${config.port}`,
    `dir ${quote(config.folder)}`,
    'daemonize no',
    'appendonly yes',
    'appendfsync everysec',
    'save ""',
    // A queue that silently drops entries is worse than one that refuses them.
    'maxmemory-policy noeviction',
    // An agent's machine carries queues; it needs no command that reads files, ends the server or empties it.
    `user default on #${sha256(config.password)} ~* &* +@all -@dangerous +info +client`,
    `user keeper on #${sha256(config.keeperPassword)} ~* &* +@all`,
    '',
  ].join('\n');
}

function bindAddresses(bind: string): string {
  if (!/^[0-9A-Za-z.:%-]+$/.test(bind)) {
    throw new MillError(
      'bad-config',
      `${JSON.stringify(bind)} is no address to listen on; give a host name or an IP address`,
    );
  }
  if (bind === '0.0.0.0') return bind;
  if (bind === '::') return '* -::*';
  return ['127.0.0.1', 'localhost'].includes(bind) ? '127.0.0.1' : `127.0.0.1 ${bind}`;
}

/** Quoted as Redis reads it: the escapes of JSON are among its own, save for control characters. */
function quote(text: string): string {
  return JSON.stringify(text).replace(/\\u00([0-9a-f]{2})/g, '\\x$1');
}

function sha256(text: string): string {
  return createHash('sha256').update(text).digest('hex');
}
