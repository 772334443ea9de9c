// The HTTP room of a test on a real socket of this machine.
import { serve } from '@hono/node-server';
import { onTestFinished } from 'vitest';
import { type ApiWorld, createApiWorld } from './api-world.ts';

export type ServedApi = ApiWorld & {
  readonly url: string;
  /** Breaks what is connected now; new connections are taken. */
  cutConnections(): void;
};

/** Call inside a test; it is closed when the test ends. */
export async function serveApi(...changes: Parameters<typeof createApiWorld>): Promise<ServedApi> {
  const world = await createApiWorld(...changes);
  const { promise, resolve } = Promise.withResolvers<number>();
  const server = serve({ fetch: world.app.fetch, hostname: '127.0.0.1', port: 0 }, ({ port }) =>
    resolve(port),
  );
  const cutConnections = () => {
    if ('closeAllConnections' in server) server.closeAllConnections();
  };
  onTestFinished(() => {
    server.close();
    cutConnections();
  });
  return { ...world, cutConnections, url: `http://127.0.0.1:${await promise}` };
}
