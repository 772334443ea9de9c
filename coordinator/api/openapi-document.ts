// The OpenAPI 3.1 document, made of the same schemas that check the requests.
import type { OpenAPIHono } from '@hono/zod-openapi';

/** Serves the document at `/v1/openapi.json`; it is made once, on the first request. */
export function addDocument(app: OpenAPIHono, version: string): void {
  app.openAPIRegistry.registerComponent('securitySchemes', 'token', { type: 'http', scheme: 'bearer' });
  let document: object | null = null;
  app.get('/v1/openapi.json', (c) => {
    document ??= app.getOpenAPI31Document({
      openapi: '3.1.0',
      info: {
        title: 'Nightmill coordinator',
        version,
        description:
          'Pools the machines of a small studio to encode long sources. Errors are RFC 9457 problem documents.',
      },
      // The empty entry: a coordinator that only its own machine can reach may run without a token.
      security: [{ token: [] }, {}],
      tags: [
        { name: 'jobs', description: 'What editors send and follow' },
        { name: 'farm', description: 'Machines, what they can do, and when the work will be done' },
        { name: 'service', description: 'For probes and monitoring' },
      ],
    });
    return c.json(document);
  });
}
