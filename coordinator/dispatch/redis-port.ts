// Ports for our Redis.
import { once } from 'node:events';
import { type AddressInfo, createServer } from 'node:net';
import { MillError } from '#shared/errors.ts';

/** A port that was free on `bind` a moment ago. Throws MillError `bad-config` when that is no address of this machine. */
export async function findFreePort(bind: string): Promise<number> {
  try {
    return await listenFor(0, bind);
  } catch (cause) {
    throw new MillError('bad-config', `${bind} is no address of this machine to listen on; give another`, {
      cause,
    });
  }
}

/** False for port 0. */
export async function isPortFree(port: number, bind: string): Promise<boolean> {
  try {
    return port !== 0 && (await listenFor(port, bind)) === port;
  } catch {
    return false;
  }
}

async function listenFor(port: number, host: string): Promise<number> {
  const server = createServer().listen({ port, host, exclusive: true });
  await once(server, 'listening');
  const { port: given } = server.address() as AddressInfo;
  server.close();
  await once(server, 'close');
  return given;
}
