// The redis-server program of this machine: is there one, is it new enough, and how it is started so that it doesn't
// outlive us.
import { execa } from 'execa';
import { MillError } from '#shared/errors.ts';
import { isTooOld, oldestRedis } from './redis-ask.ts';

export type RedisProgram = { readonly file: string; readonly args: readonly string[] };

const timeoutMs = 10_000;

/** The command that starts a server with its configuration on standard input. Throws MillError `missing-tool`. */
export async function findRedisProgram(): Promise<RedisProgram> {
  const { major, minor } = oldestRedis;
  const asked = await execa('redis-server', ['--version'], { reject: false, timeout: timeoutMs });
  if (asked.failed) {
    throw new MillError(
      'missing-tool',
      process.platform === 'win32'
        ? 'there is no redis-server for Windows; start a Redis elsewhere and give its address with --redis URL'
        : `redis-server ${major}.${minor} or newer is needed; install it, or give the address of another with --redis URL`,
      { cause: asked },
    );
  }
  const version = /v=(\S+)/.exec(asked.stdout)?.[1] ?? '';
  if (isTooOld(version)) {
    const message = `redis-server is version ${version || 'unknown'}; install ${major}.${minor} or newer, or give another with --redis URL`;
    throw new MillError('missing-tool', message);
  }
  return (await canTieToParent())
    ? { file: 'setpriv', args: ['--pdeathsig', 'TERM', 'redis-server', '-'] }
    : { file: 'redis-server', args: ['-'] };
}

/** On Linux, setpriv has the system end the server when we are gone, even if we were killed (prctl(2), PR_SET_PDEATHSIG). */
async function canTieToParent(): Promise<boolean> {
  if (process.platform !== 'linux') return false;
  const tried = await execa('setpriv', ['--pdeathsig', 'TERM', 'true'], {
    reject: false,
    timeout: timeoutMs,
  });
  return !tried.failed;
}
