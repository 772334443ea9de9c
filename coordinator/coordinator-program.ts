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
    const { config, endWithParent } = await readWords(words);
    const log = await createLog(config);
    const running = await startCoordinator(config, log, await ownVersion());
    // The one line for whoever started us: the address, once it answers.
    process.stdout.write(`${JSON.stringify({ ready: running.url })}\n`);
    let ending = false;
    const end = (reason: string) => {
      if (ending) process.exit(exitCodes.failed);
      ending = true;
      log.info({ reason }, 'stopping');
      running.stop().then(
        () => process.exit(0),
        (error: unknown) => {
          log.error({ err: error }, 'stopping failed');
          process.exit(exitCodes.failed);
        },
      );
    };
    for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.on(signal, () => end(signal));
    // Whoever started us holds our standard input as a pipe; it closes when they are gone, however that came.
    if (endWithParent) process.stdin.once('end', () => end('its parent is gone')).resume();
  } catch (error) {
    process.stderr.write(
      `${error instanceof MillError ? error.message : String(error instanceof Error ? error.stack : error)}\n`,
    );
    process.exit(
      error instanceof MillError && error.code === 'bad-config' ? exitCodes.badRequest : exitCodes.failed,
    );
  }
}

async function readWords(words: readonly string[]): Promise<{ config: Config; endWithParent: boolean }> {
  const text = { type: 'string' } as const;
  const options = {
    config: text,
    redis: text,
    data: text,
    listen: text,
    'end-with-parent': { type: 'boolean' },
  } as const;
  let values: {
    config?: string;
    redis?: string;
    data?: string;
    listen?: string;
    'end-with-parent'?: boolean;
  };
  try {
    values = parseArgs({ args: [...words], options }).values;
  } catch (error) {
    throw new MillError('bad-config', error instanceof Error ? error.message : String(error));
  }
  const {
    config: file = process.env['NIGHTMILL_CONFIG'] ?? null,
    'end-with-parent': endWithParent = false,
    ...rest
  } = values;
  return { config: await loadConfig({ file, environment: process.env, options: rest }), endWithParent };
}

async function createLog({ logLevel, logFormat }: Config): Promise<Logger> {
  const base = { level: logLevel, base: { process: 'coordinator' } };
  if (logFormat === 'json') return pino(base, pino.destination(2));
  const { default: pretty } = await import('pino-pretty');
  return pino(
    base,
    pretty({ destination: 2, colorize: process.stderr.isTTY, ignore: 'pid,hostname,process' }),
  );
}

async function ownVersion(): Promise<string> {
  const text = await readFile(new URL('../package.json', import.meta.url), 'utf8');
  return (JSON.parse(text) as { version: string }).version;
}
