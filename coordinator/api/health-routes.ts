// For probes: alive means that the process answers, ready means that it can take jobs.
import { createRoute, type OpenAPIHono, z } from '@hono/zod-openapi';
import type { ApiPorts } from './api-ports.ts';
import { json, problem } from './documented.ts';
import { answerNotReady } from './problems.ts';

const status = z.strictObject({ status: z.string(), version: z.string() });

const aliveRoute = createRoute({
  method: 'get',
  path: '/healthz',
  tags: ['service'],
  summary: 'The process answers',
  responses: { 200: json(status, 'Alive') },
});

const readyRoute = createRoute({
  method: 'get',
  path: '/readyz',
  tags: ['service'],
  summary: 'Jobs can be taken',
  responses: { 200: json(status, 'Ready'), 503: problem('Not ready; `detail` says why') },
});

export function addHealthRoutes(app: OpenAPIHono, ports: ApiPorts): void {
  app.openapi(aliveRoute, (c) => c.json({ status: 'alive', version: ports.version }, 200));
  app.openapi(readyRoute, (c) => {
    const reason = ports.farm.notReady();
    return reason === null
      ? c.json({ status: 'ready', version: ports.version }, 200)
      : (answerNotReady(c, reason) as never);
  });
}
