// The agent as a program: reads its config, runs until it is told to stop, and is gone within five seconds after that.
// The composition root; main.ts only starts it.

import { MillError } from '#shared/errors.ts';
import { toFailure } from '#shared/failure.ts';
import { commandLineHelp, readCommandLine, readEnvironment } from './command-line.ts';
import { loadConfig } from './config.ts';
import { runAgent } from './start-agent.ts';
import { ownFlavour } from './tools/local-volumes.ts';
import { type AgentLog, createLog } from './tools/logger.ts';
import { whenParentIsGone } from './tools/parent-watch.ts';

/** Orderly ending takes less; whatever hangs is not waited for. */
const endLimitMs = 4_500;
const exitCodes = { stopped: 0, failed: 1, badRequest: 2, interrupted: 130 } as const;

/** `words`: what follows the program's name on the command line. Ends the process. */
export async function runProgram(words: readonly string[]): Promise<void> {
  try {
    const commandLine = readCommandLine(words);
    if (commandLine.help) {
      process.stdout.write(`${commandLineHelp()}\n`);
      return;
    }
    const environment = readEnvironment(process.env);
    const file = commandLine.configFile ?? environment.configFile;
    const config = await loadConfig({ commandLine, environment, file, flavour: ownFlavour });
    const log = await createLog({ format: config.logFormat, level: config.logLevel, machine: config.name });
    const end = endOnSignals(log);
    if (commandLine.endWithParent)
      whenParentIsGone(end.signal, () => end.stop('its parent is gone', exitCodes.stopped));
    process.exitCode = exitCodes.stopped;
    await runAgent(config, log, end.signal).catch((error: unknown) => {
      if (end.signal.aborted) return;
      log.error({ failure: toFailure(error, 'agent', config.name) }, 'the agent ends');
      process.exitCode = exitCodeOf(error);
    });
    // Nothing may keep the process: a Redis that is gone, a mount that hangs.
    process.exit(end.exitCode ?? process.exitCode);
  } catch (error) {
    process.stderr.write(`${error instanceof MillError ? error.message : String(error)}\n`);
    process.exitCode = exitCodeOf(error);
  }
}

type End = {
  readonly signal: AbortSignal;
  exitCode: number | null;
  stop(reason: string, exitCode: number): void;
};

function endOnSignals(log: AgentLog): End {
  const controller = new AbortController();
  const end: End = {
    signal: controller.signal,
    exitCode: null,
    stop(reason, exitCode) {
      // A second wish to end is meant at once.
      if (controller.signal.aborted) process.exit(exitCode);
      log.info({ reason }, 'stopping');
      end.exitCode = exitCode;
      controller.abort(new MillError('agent-lost', 'the agent is stopping'));
      setTimeout(() => {
        log.warn({ afterMs: endLimitMs }, 'ending without waiting longer');
        process.exit(exitCode);
      }, endLimitMs).unref();
    },
  };
  process.on('SIGINT', () => end.stop('SIGINT', exitCodes.interrupted));
  process.on('SIGTERM', () => end.stop('SIGTERM', exitCodes.stopped));
  // On Windows: the console window was closed, or Ctrl+Break.
  process.on('SIGHUP', () => end.stop('SIGHUP', exitCodes.stopped));
  if (process.platform === 'win32') process.on('SIGBREAK', () => end.stop('SIGBREAK', exitCodes.interrupted));
  return end;
}

function exitCodeOf(error: unknown): number {
  return error instanceof MillError && error.code === 'bad-config' ? exitCodes.badRequest : exitCodes.failed;
}
