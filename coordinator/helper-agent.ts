// The coordinator's own helper: an agent process on the same machine that lends no encoders and does what is near the
// storage (inspect, join, check, deliver). Started again when it dies.
import { fileURLToPath } from 'node:url';
import { execa } from 'execa';
import type { Logger } from 'pino';

export type HelperAgent = { stop(): Promise<void> };

export type HelperAgentOptions = {
  readonly url: string;
  readonly token: string | null;
  readonly stateFolder: string;
  readonly volumes: Readonly<Record<string, string>>;
  readonly log: Logger;
};

const program = fileURLToPath(new URL('../agent/main.ts', import.meta.url));
const pauseMs = 5_000;

export function startHelperAgent(options: HelperAgentOptions): HelperAgent {
  const ending = new AbortController();
  const running = keepRunning(options, ending.signal);
  return {
    async stop() {
      ending.abort();
      await running;
    },
  };
}

async function keepRunning(options: HelperAgentOptions, signal: AbortSignal): Promise<void> {
  while (!signal.aborted) {
    const { exitCode, signal: endedBy } = await run(options, signal);
    if (signal.aborted) return;
    options.log.error({ exitCode, endedBy }, 'the helper agent ended; it is started again');
    await pause(pauseMs, signal);
  }
}

function run({ url, token, stateFolder, volumes, log }: HelperAgentOptions, signal: AbortSignal) {
  const args = [
    '--coordinator',
    url,
    '--name',
    'helper',
    '--state',
    stateFolder,
    '--encode-places',
    '0',
    '--end-with-parent',
  ];
  const mounts = Object.entries(volumes).flatMap(([name, path]) => ['--volume', `${name}=${path}`]);
  const child = execa(process.execPath, [program, ...args, ...mounts], {
    // An open pipe that closes with us: the helper sees it and ends, even when we are killed.
    stdin: 'pipe',
    stdout: 'ignore',
    // Its log goes where ours goes.
    stderr: 'inherit',
    reject: false,
    cancelSignal: signal,
    forceKillAfterDelay: 5_000,
    env: token === null ? {} : { NIGHTMILL_TOKEN: token },
  });
  log.debug({ pid: child.pid }, 'helper agent started');
  return child;
}

function pause(ms: number, signal: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, ms);
    signal.addEventListener('abort', () => {
      clearTimeout(timer);
      resolve();
    });
  });
}
