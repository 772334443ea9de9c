// Files to and from the granary, for agents that don't see it as a folder. Bodies are streamed, never held.
import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { Readable } from 'node:stream';
import type { OpenAPIHono } from '@hono/zod-openapi';
import { z } from 'zod';
import { MillError } from '#shared/errors.ts';
import { granaryFileSchema } from '#shared/task.ts';
import type { AgentLink, ApiPorts } from './api-ports.ts';
import { answerZodError } from './problems.ts';

const granaryPrefix = '/v1/granary/';

const uploadSchema = z.object({
  jobId: z.string(),
  attempt: z.coerce.number().int().positive(),
  name: z.string().regex(/^[a-z0-9][a-zA-Z0-9._-]*$/),
  'content-length': z.coerce.number('every upload tells its length in bytes').int().positive(),
  'x-content-xxh128': z.string('every upload tells its xxh128').regex(/^[0-9a-f]{32}$/),
});

export function addGranaryRoutes(app: OpenAPIHono, { link }: ApiPorts): void {
  app.put('/v1/attempts/:jobId/:attempt/files/:name', async (c) => {
    const checked = uploadSchema.safeParse({ ...c.req.param(), ...c.req.header() });
    if (!checked.success) return answerZodError(checked.error, c);
    const body = c.req.raw.body;
    if (body === null) throw new MillError('bad-request', 'An upload has a body: the bytes of the file.');
    const { jobId, attempt, name, 'content-length': bytes, 'x-content-xxh128': xxh128 } = checked.data;
    return c.json(await link.receiveFile({ jobId, attempt, name, bytes, xxh128, body }), 201);
  });

  app.get(`${granaryPrefix}*`, async (c) => {
    const { path, bytes } = await findFile(link, c.req.path);
    c.header('Content-Type', 'application/octet-stream');
    c.header('Content-Length', String(bytes));
    if (c.req.method === 'HEAD') return c.body(null);
    return c.body(Readable.toWeb(createReadStream(path)) as ReadableStream<Uint8Array>);
  });
}

async function findFile(link: AgentLink, address: string): Promise<{ path: string; bytes: number }> {
  const file = granaryFileSchema.shape.file.safeParse(address.slice(granaryPrefix.length));
  if (!file.success || file.data.split('/').includes('..')) {
    throw new MillError('not-found', 'There is no such file in the granary.');
  }
  const path = await link.granaryPath(file.data);
  const found = await stat(path).catch(() => null);
  if (!found?.isFile()) throw new MillError('not-found', `There is no file ${file.data} in the granary.`);
  return { path, bytes: found.size };
}
