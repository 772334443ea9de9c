// What admins look at: machines, lanes, volumes, house formats, and when the work will be done.
import { createRoute, type OpenAPIHono, z } from '@hono/zod-openapi';
import { MillError } from '#shared/errors.ts';
import type { ApiPorts } from './api-ports.ts';
import {
  commonProblems,
  Forecast,
  HouseFormat,
  json,
  listOf,
  Machine,
  MachineLane,
  problem,
  Volume,
} from './documented.ts';
import { viewForecast } from './views/forecast-view.ts';
import { viewLanes } from './views/lane-view.ts';
import { viewVolumes } from './views/volume-view.ts';

const tags = ['farm'];

const machinesRoute = createRoute({
  method: 'get',
  path: '/v1/machines',
  tags,
  summary: 'Machines that lend their encoders',
  responses: {
    200: json(listOf(Machine), 'All that are known, also those that no longer answer'),
    ...commonProblems,
  },
});

const lanesRoute = createRoute({
  method: 'get',
  path: '/v1/lanes',
  tags,
  summary: 'Every way in which a machine can encode, proven or not, and why',
  responses: { 200: json(listOf(MachineLane), 'The lanes of all machines'), ...commonProblems },
});

const volumesRoute = createRoute({
  method: 'get',
  path: '/v1/volumes',
  tags,
  summary: 'Storage places and who reaches them',
  responses: { 200: json(listOf(Volume), 'The volumes of this coordinator'), ...commonProblems },
});

const formatsRoute = createRoute({
  method: 'get',
  path: '/v1/formats',
  tags,
  summary: 'House formats, each in its newest version',
  responses: { 200: json(listOf(HouseFormat), 'The house formats'), ...commonProblems },
});

const formatRoute = createRoute({
  method: 'get',
  path: '/v1/formats/{name}',
  tags,
  summary: 'One house format',
  request: { params: z.object({ name: z.string() }) },
  responses: {
    200: json(HouseFormat, 'The format'),
    404: problem('There is no such format'),
    ...commonProblems,
  },
});

const forecastRoute = createRoute({
  method: 'get',
  path: '/v1/forecast',
  tags,
  summary: 'When the work will be done, as far as anyone can know',
  responses: {
    200: json(Forecast, 'Missing frames over measured rates; null where nothing is known'),
    ...commonProblems,
  },
});

export function addFarmRoutes(app: OpenAPIHono, ports: ApiPorts): void {
  const { farm, formats } = ports;

  app.openapi(machinesRoute, (c) => c.json({ items: [...farm.machines()] }, 200));
  app.openapi(lanesRoute, (c) => c.json({ items: viewLanes(farm.machines()) }, 200));
  app.openapi(volumesRoute, (c) => c.json({ items: viewVolumes(ports.volumes, farm.machines()) }, 200));
  app.openapi(formatsRoute, (c) => c.json({ items: [...formats] }, 200));

  app.openapi(formatRoute, (c) => {
    const { name } = c.req.valid('param');
    const format = formats.find((candidate) => candidate.name === name);
    if (!format)
      throw new MillError('not-found', `There is no house format ${name}; GET /v1/formats lists them.`);
    return c.json(format, 200);
  });

  app.openapi(forecastRoute, (c) => {
    const facts = {
      jobs: ports.book.working(),
      progressOf: (jobId: string) => farm.progressOf(jobId),
      machines: farm.machines(),
      nowMs: ports.clock(),
    };
    return c.json(viewForecast(facts), 200);
  });
}
