// The agent's log: one JSON object a line on standard error, or text for people.
import pino from 'pino';

export type AgentLog = {
  debug(fields: object, message: string): void;
  info(fields: object, message: string): void;
  warn(fields: object, message: string): void;
  error(fields: object, message: string): void;
  /** A log whose every line also carries `fields`. */
  child(fields: Record<string, string | number>): AgentLog;
};

export const logFormats = ['json', 'text'] as const;
export const logLevels = ['debug', 'info', 'warn', 'error'] as const;

export type LogOptions = {
  readonly format: (typeof logFormats)[number];
  readonly level: (typeof logLevels)[number];
  readonly machine: string;
};

/** Lines are written before the call returns, so that the last one before an end isn't lost. */
export async function createLog(options: LogOptions): Promise<AgentLog> {
  const log: AgentLog = pino(pinoOptions(options), await destinationOf(options));
  return log;
}

function pinoOptions({ level, machine }: LogOptions): pino.LoggerOptions {
  return { level, base: { machine }, timestamp: pino.stdTimeFunctions.isoTime };
}

async function destinationOf({ format }: LogOptions): Promise<pino.DestinationStream> {
  if (format === 'json') return pino.destination({ dest: 2, sync: true });
  const { build } = await import('pino-pretty');
  return build({ destination: 2, sync: true, translateTime: 'SYS:HH:MM:ss' });
}
