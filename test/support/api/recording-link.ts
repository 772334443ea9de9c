// The coordinator's end of the agents' link for tests of the HTTP room: keeps what was said, answers what is usual.
import { join } from 'node:path';
import { MillError } from '#shared/errors.ts';
import type { AgentLink } from '../../../coordinator/api/api-ports.ts';

export type Said = { readonly what: string; readonly words: readonly unknown[] };

/** `granary` is the folder whose files can be read. Attempt 99 is stale. */
export function recordingLink(
  granary: string,
): AgentLink & { readonly said: Said[]; readonly bodies: string[] } {
  const said: Said[] = [];
  const bodies: string[] = [];
  const note = (what: string, ...words: unknown[]) => void said.push({ what, words });
  const fence = (attempt: number) => {
    if (attempt === 99)
      throw new MillError('stale-attempt', 'attempt 99 no longer counts; its work is dropped');
  };
  return {
    said,
    bodies,
    register(registration, host) {
      note('register', registration.agentId, host);
      return {
        redisUrl: `redis://${host}:6379`,
        queuePrefix: 'nightmill',
        queueName: registration.agentId,
        heartbeatSeconds: 2,
        granary: { path: granary, markFile: 'mark', markText: 'text' },
      };
    },
    heartbeat(agentId, heartbeat) {
      note('heartbeat', agentId, heartbeat.queueAgeSeconds);
      return { stop: [] };
    },
    leave: (agentId) => note('leave', agentId),
    progress(jobId, attempt, progress) {
      fence(attempt);
      note('progress', jobId, attempt, progress.frames);
      return { proceed: true, end: 240 };
    },
    async grain(jobId, attempt, grain) {
      fence(attempt);
      note('grain', jobId, attempt, grain.index);
      return { proceed: true, end: 240 };
    },
    async outcome(jobId, attempt, outcome) {
      fence(attempt);
      note('outcome', jobId, attempt, outcome.ok);
    },
    async receiveFile({ body, ...upload }) {
      fence(upload.attempt);
      note('file', upload);
      bodies.push(await new Response(body).text());
      const { jobId, name, bytes, xxh128 } = upload;
      return { file: `${jobId}/${name}`, bytes, hash: { algorithm: 'xxh128', hex: xxh128 } };
    },
    granaryPath: async (file) => join(granary, file),
  };
}
