// The HTTP room: every route of the coordinator and what holds for all of them. Handlers parse, call a port, answer.
import { OpenAPIHono } from '@hono/zod-openapi';
import type { MiddlewareHandler } from 'hono';
import { bodyLimit } from 'hono/body-limit';
import { secureHeaders } from 'hono/secure-headers';
import { addAgentRoutes } from './agent-routes.ts';
import type { ApiPorts } from './api-ports.ts';
import { addBatchRoutes } from './batch-routes.ts';
import { addEventStream, type StreamTiming } from './event-stream.ts';
import { addFarmRoutes } from './farm-routes.ts';
import { addGranaryRoutes } from './granary-routes.ts';
import { guard } from './guard.ts';
import { addHealthRoutes } from './health-routes.ts';
import { addJobRoutes } from './job-routes.ts';
import { createMetrics } from './metrics.ts';
import { addDocument } from './openapi-document.ts';
import {
  answerError,
  answerMethodNotAllowed,
  answerTooLarge,
  answerUnknownAddress,
  answerZodError,
} from './problems.ts';

const MEBIBYTE = 1024 * 1024;
const usualBodyBytes = 1 * MEBIBYTE;
/** The facts of a long source list every keyframe. */
const outcomeBodyBytes = 64 * MEBIBYTE;
const defaultTiming: StreamTiming = { keepAliveMs: 15_000, progressMs: 500 };

export function createApp(ports: ApiPorts, timing: StreamTiming = defaultTiming): OpenAPIHono {
  const app = new OpenAPIHono({
    defaultHook: (result, c) => (result.success ? undefined : answerZodError(result.error, c)),
  });
  const metrics = createMetrics(ports);
  app.onError((error, c) => answerError(error, c, ports.reportFault));
  app.notFound(answerUnknownAddress);

  app.use(metrics.measureRequests, secureHeaders(headers), guard(ports.token), limitBodies());
  addHealthRoutes(app, ports);
  metrics.addRoute(app);
  addJobRoutes(app, ports);
  addBatchRoutes(app, ports);
  addEventStream(app, ports, timing);
  addFarmRoutes(app, ports);
  addAgentRoutes(app, ports);
  addGranaryRoutes(app, ports);
  addDocument(app, ports.version);
  refuseOtherMethods(app);
  return app;
}

/** Answers are data for programs: no page may frame them, run them or load anything through them. */
const headers: Parameters<typeof secureHeaders>[0] = {
  contentSecurityPolicy: { defaultSrc: ["'none'"], frameAncestors: ["'none'"] },
  referrerPolicy: 'no-referrer',
  xFrameOptions: 'DENY',
  // Whether the way here is encrypted is the business of whoever stands before us.
  strictTransportSecurity: false,
};

function limitBodies(): MiddlewareHandler {
  const limit = (bytes: number) => bodyLimit({ maxSize: bytes, onError: (c) => answerTooLarge(c, bytes) });
  const [usual, outcome] = [limit(usualBodyBytes), limit(outcomeBodyBytes)];
  return (c, next) => {
    // Files are streamed and have their own limit: the length that they announce.
    if (c.req.method === 'PUT') return next();
    return c.req.path.endsWith('/outcome') ? outcome(c, next) : usual(c, next);
  };
}

/** A known address asked by another method is answered as such, with the methods that it takes. */
function refuseOtherMethods(app: OpenAPIHono): void {
  const methods = new Map<string, Set<string>>();
  for (const { path, method } of app.routes.filter((route) => route.method !== 'ALL')) {
    const known = methods.get(path) ?? new Set<string>();
    methods.set(path, known.add(method));
    if (method === 'GET') known.add('HEAD');
  }
  for (const [path, allowed] of methods) app.all(path, (c) => answerMethodNotAllowed(c, [...allowed]));
}
