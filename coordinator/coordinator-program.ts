// The coordinator as a program: reads its config, serves until it is told to stop.
import { readFile } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { type Logger, pino } from 'pino';
import { MillError } from '#shared/errors.ts';
import { type Config, loadConfig } from './config.ts';
import { startCoordinator } from './start-coordinator.ts';

const exitCodes = { failed: 1, badRequest: 2 } as const;

/** `words`: what follows the program's name on the command line. */
export async function runProgram(words: readonly string[]): Promise<void> {
  try {
    const config = await readConfig(words);
    const log = await createLog(config);
    const { url, stop } = await startCoordinator(config, log, await ownVersion());
    // The one line for whoever started us: the address, once it answers.
    process.stdout.write(`${JSON.stringify({ ready: url })}\n`);
    let ending = false;
    for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) {
      process.on(signal, () => {
        if (ending) process.exit(exitCodes.failed);
        ending = true;
        log.info({ signal }, 'stopping');
        stop().then(
          () => process.exit(0),
          (error: unknown) => {
            log.error({ err: error }, 'stopping failed');
            process.exit(exitCodes.failed);
          },
        );
      });
    }
  } catch (error) {
    process.stderr.write(`${error instanceof MillError ? error.message : String(error instanceof Error ? error.stack : error)}\n`);
    process.exit(error instanceof MillError && error.code === 'bad-config' ? exitCodes.badRequest : exitCodes.failed);
  }
}

function readConfig(words: readonly string[]): Promise<Config> {
  const options = { config: { type: 'string' }, redis: { type: 'string' }, data: { type: 'string' }, listen: { type: 'string' } } as const;
  let values: { config?: string; redis?: string; data?: string; listen?: string };
  try {
    values = parseArgs({ args: [...words], options }).values;
  } catch (error) {
    throw new MillError('bad-config', error instanceof Error ? error.message : String(error));
  }
  const { config, ...rest } = values;
  return loadConfig({ file: config ?? process.env['NIGHTMILL_CONFIG'] ?? null, environment: process.env, options: rest });
}

async function createLog({ logLevel, logFormat }: Config): Promise<Logger> {
  const base = { level: logLevel, base: { process: 'coordinator' } };
  if (logFormat === 'json') return pino(base, pino.destination(2));
  const { default: pretty } = await import('pino-pretty');
  return pino(base, pretty({ destination: 2, colorize: process.stderr.isTTY, ignore: 'pid,hostname,process' }));
}

async function ownVersion(): Promise<string> {
  const text = await readFile(new URL('../package.json', import.meta.url), 'utf8');
  return (JSON.parse(text) as { version: string }).version;
}
