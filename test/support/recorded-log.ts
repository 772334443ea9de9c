// A log that a test can read: what was said, with all its fields.
import type { AgentLog } from '../../agent/tools/logger.ts';

export type LogLine = Readonly<Record<string, unknown>> & {
  readonly level: string;
  readonly message: string;
};

export type RecordedLog = AgentLog & { readonly lines: LogLine[] };

export function recordLog(lines: LogLine[] = [], fields: Record<string, unknown> = {}): RecordedLog {
  const say = (level: string) => (more: object, message: string) => {
    lines.push({ ...fields, ...more, level, message });
  };
  return {
    lines,
    debug: say('debug'),
    info: say('info'),
    warn: say('warn'),
    error: say('error'),
    child: (more) => recordLog(lines, { ...fields, ...more }),
  };
}
