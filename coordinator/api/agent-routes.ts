// The agents' end of the link: presence, progress, grains and outcomes. Not part of the public document.
import { createRoute, type OpenAPIHono, z } from '@hono/zod-openapi';
import {
  heartbeatReplySchema,
  heartbeatSchema,
  leaseSchema,
  progressSchema,
  registrationReplySchema,
  registrationSchema,
} from '#shared/link.ts';
import { attemptOutcomeSchema, grainReportSchema } from '#shared/task.ts';
import type { ApiPorts } from './api-ports.ts';
import { json } from './documented.ts';

const agentParam = z.object({ agentId: z.string() });
const attemptParam = z.object({ jobId: z.string(), attempt: z.coerce.number().int().positive() });
const nothing = { 204: { description: 'Taken' } } as const;

const registerRoute = createRoute({
  method: 'post',
  path: '/v1/agents',
  hide: true,
  request: { body: jsonBody(registrationSchema) },
  responses: { 200: json(registrationReplySchema, 'Where the work is found') },
});

const heartbeatRoute = createRoute({
  method: 'post',
  path: '/v1/agents/{agentId}/heartbeat',
  hide: true,
  request: { params: agentParam, body: jsonBody(heartbeatSchema) },
  responses: { 200: json(heartbeatReplySchema, 'What to stop') },
});

const leaveRoute = createRoute({
  method: 'post',
  path: '/v1/agents/{agentId}/leave',
  hide: true,
  request: { params: agentParam },
  responses: nothing,
});

const progressRoute = createRoute({
  method: 'post',
  path: '/v1/attempts/{jobId}/{attempt}/progress',
  hide: true,
  request: { params: attemptParam, body: jsonBody(progressSchema) },
  responses: { 200: json(leaseSchema, 'The lease as it stands') },
});

const grainRoute = createRoute({
  method: 'post',
  path: '/v1/attempts/{jobId}/{attempt}/grains',
  hide: true,
  request: { params: attemptParam, body: jsonBody(grainReportSchema) },
  responses: { 200: json(leaseSchema, 'The grain is entered; the lease as it stands') },
});

const outcomeRoute = createRoute({
  method: 'post',
  path: '/v1/attempts/{jobId}/{attempt}/outcome',
  hide: true,
  request: { params: attemptParam, body: jsonBody(attemptOutcomeSchema) },
  responses: nothing,
});

export function addAgentRoutes(app: OpenAPIHono, { link }: ApiPorts): void {
  app.openapi(registerRoute, (c) =>
    c.json(link.register(c.req.valid('json'), new URL(c.req.url).hostname), 200),
  );

  app.openapi(heartbeatRoute, (c) =>
    c.json(link.heartbeat(c.req.valid('param').agentId, c.req.valid('json')), 200),
  );

  app.openapi(leaveRoute, (c) => {
    link.leave(c.req.valid('param').agentId);
    return c.body(null, 204);
  });

  app.openapi(progressRoute, (c) => {
    const { jobId, attempt } = c.req.valid('param');
    return c.json(link.progress(jobId, attempt, c.req.valid('json')), 200);
  });

  app.openapi(grainRoute, async (c) => {
    const { jobId, attempt } = c.req.valid('param');
    return c.json(await link.grain(jobId, attempt, c.req.valid('json')), 200);
  });

  app.openapi(outcomeRoute, async (c) => {
    const { jobId, attempt } = c.req.valid('param');
    await link.outcome(jobId, attempt, c.req.valid('json'));
    return c.body(null, 204);
  });
}

function jsonBody<T extends z.ZodType>(schema: T) {
  return { required: true, content: { 'application/json': { schema } } } as const;
}
