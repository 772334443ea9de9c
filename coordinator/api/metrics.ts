// Prometheus text at /metrics. Counters start with the process and follow the book's events; gauges are read when
// somebody asks. Labels take values from closed sets or from the machines that lend themselves, nothing else.
import type { OpenAPIHono } from '@hono/zod-openapi';
import type { MiddlewareHandler } from 'hono';
import { routePath } from 'hono/route';
import { Counter, collectDefaultMetrics, Gauge, Histogram, Registry } from 'prom-client';
import type { JobState } from '#shared/job.ts';
import type { StoredEvent } from '../ledger/job-book.ts';
import type { JobRecord } from '../state/job-record.ts';
import type { ApiPorts } from './api-ports.ts';

export type Metrics = { readonly measureRequests: MiddlewareHandler; addRoute(app: OpenAPIHono): void };

export function createMetrics(ports: ApiPorts): Metrics {
  const registry = new Registry();
  collectDefaultMetrics({ register: registry });
  addGauges(registry, ports);
  countEvents(registry, ports);
  return {
    measureRequests: measureRequests(registry),
    addRoute(app) {
      app.get('/metrics', async (c) => {
        const text = await registry.metrics();
        return c.body(text, 200, { 'Content-Type': registry.contentType });
      });
    },
  };
}

function addGauges(registry: Registry, ports: ApiPorts): void {
  addGauge(registry, {
    name: 'nightmill_build_info',
    help: 'Always 1; the label names the version',
    labelNames: ['version'],
    read: (set) => set({ version: ports.version }, 1),
  });
  addGauge(registry, {
    name: 'nightmill_jobs',
    help: 'Jobs that are at work or wait for a person, by state',
    labelNames: ['state'],
    read: (set) => {
      for (const [state, count] of countJobs(ports)) set({ state }, count);
    },
  });
  addGauge(registry, {
    name: 'nightmill_machines',
    help: 'Machines, by whether they answer',
    labelNames: ['alive'],
    read: (set) => {
      const machines = ports.farm.machines();
      const alive = machines.filter((machine) => machine.alive).length;
      set({ alive: 'true' }, alive);
      set({ alive: 'false' }, machines.length - alive);
    },
  });
  addGauge(registry, {
    name: 'nightmill_lane_rate_frames_per_second',
    help: 'Calibrated speed of the proven lanes of living machines',
    labelNames: ['machine', 'lane', 'format'],
    read: (set) => readLaneRates(ports, set),
  });
}

function readLaneRates(ports: ApiPorts, set: SetGauge<'machine' | 'lane' | 'format'>): void {
  for (const { name, lanes } of ports.farm.machines().filter((machine) => machine.alive)) {
    for (const lane of lanes.filter((candidate) => candidate.proven)) {
      for (const [format, rate] of Object.entries(lane.rates)) {
        set({ machine: name, lane: lane.id, format }, rate.framesPerSecond);
      }
    }
  }
}

type SetGauge<T extends string> = (labels: Record<T, string>, value: number) => void;
type GaugeReading<T extends string> = {
  readonly name: string;
  readonly help: string;
  readonly labelNames: readonly T[];
  readonly read: (set: SetGauge<T>) => void;
};

/** A gauge that is read anew for each scrape, so that what is gone is no longer told. */
function addGauge<T extends string>(registry: Registry, { read, ...about }: GaugeReading<T>): void {
  const gauge = new Gauge<T>({
    ...about,
    registers: [registry],
    collect() {
      gauge.reset();
      read((labels, value) => gauge.set(labels, value));
    },
  });
}

/** Delivered and cancelled jobs only ever grow in number; `nightmill_jobs_ended_total` counts them. */
function countJobs(ports: ApiPorts): Map<JobState, number> {
  const states: JobState[] = ['received', 'inspected', 'encoding', 'joining', 'checking', 'held', 'failed'];
  const counts = new Map(states.map((state) => [state, 0]));
  for (const record of ports.book.working()) counts.set(record.state, (counts.get(record.state) ?? 0) + 1);
  for (const state of ['held', 'failed'] as const) counts.set(state, countListed(ports, state));
  return counts;
}

function countListed(ports: ApiPorts, state: JobState): number {
  let count = 0;
  let cursor: string | null = null;
  do {
    const page = ports.book.list({ state, limit: 200, ...(cursor === null ? {} : { cursor }) });
    count += page.items.length;
    cursor = page.nextCursor;
  } while (cursor !== null);
  return count;
}

function countEvents(registry: Registry, ports: ApiPorts): void {
  const registers = [registry];
  const counter = <T extends string>(name: string, help: string, labelNames: readonly T[] = []) =>
    new Counter({ name, help, registers, labelNames });
  const frames = counter('nightmill_frames_encoded_total', 'Frames of stored grains');
  const grains = counter('nightmill_grains_stored_total', 'Grains that were stored');
  const grainBytes = counter('nightmill_grain_bytes_stored_total', 'Bytes of stored grains');
  const attempts = counter('nightmill_attempts_total', 'Attempts that ended, by kind and outcome', [
    'kind',
    'outcome',
  ]);
  const ended = counter('nightmill_jobs_ended_total', 'Jobs that came to rest, by state', ['state']);

  ports.book.onEvent((stored, record) => {
    if (stored.event.type === 'grain') {
      grains.inc();
      frames.inc(stored.event.grain.frames);
      grainBytes.inc(stored.event.grain.bytes);
    }
    for (const attempt of attemptsEndedBy(stored, record))
      attempts.inc({ kind: attempt.kind, outcome: attempt.state });
    if (restsBy(stored, record)) ended.inc({ state: record.state });
  });
}

/** One event ends one attempt, or all that were open: they carry the event's time. */
function attemptsEndedBy({ event, atMs }: StoredEvent, record: JobRecord): JobRecord['attempts'] {
  switch (event.type) {
    case 'ended':
    case 'lost':
    case 'stopped':
      return record.attempts.slice(event.attempt - 1, event.attempt);
    case 'held':
    case 'failed':
    case 'cancelled':
    case 'remade':
      return record.attempts.filter((attempt) => attempt.state === 'stopped' && attempt.endedMs === atMs);
    default:
      return [];
  }
}

function restsBy({ event }: StoredEvent, record: JobRecord): boolean {
  if (event.type === 'ended') return record.state === 'delivered';
  return event.type === 'held' || event.type === 'failed' || event.type === 'cancelled';
}

function measureRequests(registry: Registry): MiddlewareHandler {
  const duration = new Histogram({
    name: 'nightmill_http_request_duration_seconds',
    help: 'Time until the answer began, by route',
    labelNames: ['method', 'route', 'status'],
    buckets: [0.005, 0.025, 0.1, 0.5, 2.5, 10],
    registers: [registry],
  });
  return async (c, next) => {
    const done = duration.startTimer();
    await next();
    // The pattern of the route, never the address itself; what no route matched is one.
    const route = routePath(c, -1);
    done({
      method: c.req.method,
      route: route.includes('*') && c.res.status === 404 ? 'none' : route,
      status: c.res.status,
    });
  };
}
