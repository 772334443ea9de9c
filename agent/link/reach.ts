// What of the shared storage this machine reaches now: the granary's folder, proven by the coordinator's own mark,
// and the volumes. A mount that hangs must not hold up the heartbeat, so each is asked at most once at a time.
import { constants } from 'node:fs';
import { access, readFile } from 'node:fs/promises';
import path from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Reach, RegistrationReply } from '#shared/link.ts';
import { probeVolume, type VolumeRoots } from '../tools/local-volumes.ts';

export type GranaryMark = RegistrationReply['granary'];

export type ReachWatch = {
  /** Where the coordinator says that its granary lies. */
  setGranary(mark: GranaryMark): void;
  /** Asks the storage again; a place that doesn't answer within two seconds is not reached. */
  look(): Promise<Reach>;
  /** The granary's folder, null unless the last look proved it. */
  granaryFolder(): string | null;
};

const patienceMs = 2_000;
const nothing = { readable: false, writable: false } as const;

export function watchReach(roots: VolumeRoots): ReachWatch {
  let mark: GranaryMark | null = null;
  let granary = false;
  const volumes = Object.entries(roots).map(([name, root]) => ({
    name,
    ask: askOnce(() => probeVolume(root), nothing),
  }));
  const askGranary = askOnce(async () => mark !== null && (await holdsMark(mark)), false);
  return {
    setGranary(next) {
      mark = next;
      granary = false;
    },
    async look() {
      const [seen, ...allowed] = await Promise.all([askGranary(), ...volumes.map(({ ask }) => ask())]);
      granary = seen;
      return {
        granary,
        volumes: Object.fromEntries(volumes.map(({ name }, index) => [name, allowed[index] ?? nothing])),
      };
    },
    granaryFolder: () => (granary && mark !== null ? mark.path : null),
  };
}

async function holdsMark({ path: folder, markFile, markText }: GranaryMark): Promise<boolean> {
  try {
    await access(folder, constants.R_OK | constants.W_OK | constants.X_OK);
    return (await readFile(path.join(folder, markFile), 'utf8')) === markText;
  } catch {
    return false;
  }
}

/** `otherwise` when the answer takes too long; a question that hangs is not asked a second time beside itself. */
function askOnce<T>(ask: () => Promise<T>, otherwise: T): () => Promise<T> {
  let open: Promise<T> | null = null;
  return async () => {
    open ??= ask().finally(() => {
      open = null;
    });
    const patience = new AbortController();
    try {
      return await Promise.race([open, sleep(patienceMs, otherwise, { signal: patience.signal })]);
    } finally {
      patience.abort();
    }
  };
}
