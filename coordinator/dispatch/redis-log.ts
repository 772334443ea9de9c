// Redis's own log: the last lines, and the one of them that says why it ended.

export type RedisLog = {
  add(line: string): void;
  /** The line that says most; empty when nothing was said. */
  decisiveLine(): string;
};

const linesKept = 60;
const telling = /error|fail|can't|could not|denied|bad |unable|abort|invalid|corrupt|panic|crash/i;
/** Advice that Redis gives at every start. */
const advice = /overcommit|Transparent Huge|backlog|=== REDIS BUG REPORT|without a config/i;

export function createRedisLog(): RedisLog {
  const lines: string[] = [];
  return {
    add(line) {
      lines.push(line);
      if (lines.length > linesKept) lines.shift();
    },
    decisiveLine() {
      const fatal = lines.findIndex((line) => line.includes('FATAL CONFIG FILE ERROR'));
      if (fatal >= 0) return lines.slice(fatal + 1).join(' ');
      const line = lines.find((text) => telling.test(text) && !advice.test(text)) ?? lines.at(-1) ?? '';
      // Without `pid:role date time level`.
      return line.replace(/^\d+:[A-Z] \d+ \w+ \d+ [\d:.]+ [.\-*#] /, '');
    },
  };
}
