// `machines`, `lanes`, `formats`, `forecast`: what an admin looks at.
import type { HouseFormat } from '#shared/house-format.ts';
import type { Machine } from '#shared/job.ts';
import type { Forecast } from '../../api/views/forecast-view.ts';
import type { LaneView } from '../../api/views/lane-view.ts';
import type { Client } from '../client.ts';
import { formatDuration, formatMoment } from '../figures.ts';
import { type Column, formatTable } from '../table.ts';
import type { Terminal } from '../terminal.ts';

export type ListOptions = { readonly json?: boolean };

const machineColumns: readonly Column<Machine>[] = [
  { title: 'machine', value: (machine) => machine.name },
  {
    title: 'answers',
    value: (machine) => (machine.alive ? 'yes' : `no, since ${formatMoment(machine.lastHeardAt)}`),
  },
  { title: 'busy', value: (machine) => `${machine.busyPlaces} of ${machine.encodePlaces}` },
  { title: 'lanes', value: (machine) => provenLanes(machine) },
  { title: 'cores', value: (machine) => machine.cores, right: true },
  { title: 'ffmpeg', value: (machine) => machine.ffmpeg },
  { title: 'processor', value: (machine) => machine.cpu },
  { title: 'system', value: (machine) => machine.platform },
];

const laneColumns: readonly Column<LaneView>[] = [
  { title: 'machine', value: (lane) => lane.machine },
  { title: 'lane', value: (lane) => lane.id },
  { title: 'codec', value: (lane) => lane.codec },
  { title: 'device', value: (lane) => lane.device },
  { title: 'proven', value: (lane) => (lane.proven ? 'yes' : 'no') },
  { title: 'frames/s', value: ratesOf },
  { title: 'reason', value: (lane) => lane.reason ?? '' },
];

const formatColumns: readonly Column<HouseFormat>[] = [
  { title: 'format', value: (format) => format.name },
  { title: 'version', value: (format) => format.version, right: true },
  { title: 'wrapper', value: (format) => format.wrapper },
  { title: 'codec', value: (format) => format.picture.codec },
  { title: 'what it is', value: (format) => format.title },
];

type JobForecast = Forecast['jobs'][number];
const forecastColumns: readonly Column<JobForecast>[] = [
  { title: 'job', value: (job) => job.id },
  { title: 'state', value: (job) => job.state },
  { title: 'source', value: (job) => job.source },
  { title: 'frames left', value: (job) => job.framesLeft ?? 'unknown', right: true },
  { title: 'frames/s', value: (job) => job.framesPerSecond?.toFixed(1) ?? 'unknown', right: true },
  { title: 'from', value: (job) => job.basis },
  {
    title: 'time left',
    value: (job) => (job.secondsLeft === null ? 'unknown' : formatDuration(job.secondsLeft)),
    right: true,
  },
  { title: 'encoded at', value: (job) => (job.encodedAt === null ? 'unknown' : formatMoment(job.encodedAt)) },
];

export async function listMachines(client: Client, options: ListOptions, terminal: Terminal): Promise<void> {
  const { items } = await client.get<{ items: Machine[] }>('/v1/machines');
  tell(
    {
      items,
      columns: machineColumns,
      none: 'no machine has registered yet; start one with "nightmill agent"',
    },
    options,
    terminal,
  );
}

export async function listLanes(client: Client, options: ListOptions, terminal: Terminal): Promise<void> {
  const { items } = await client.get<{ items: LaneView[] }>('/v1/lanes');
  tell(
    { items, columns: laneColumns, none: 'no machine has registered yet, so no lane is known' },
    options,
    terminal,
  );
}

export async function listFormats(client: Client, options: ListOptions, terminal: Terminal): Promise<void> {
  const { items } = await client.get<{ items: HouseFormat[] }>('/v1/formats');
  tell({ items, columns: formatColumns, none: 'there are no house formats' }, options, terminal);
}

export async function showForecast(client: Client, options: ListOptions, terminal: Terminal): Promise<void> {
  const forecast = await client.get<Forecast>('/v1/forecast');
  if (options.json) {
    terminal.out(JSON.stringify(forecast, null, 2));
    return;
  }
  tell(
    { items: forecast.jobs, columns: forecastColumns, none: 'nothing is waiting or at work' },
    options,
    terminal,
  );
  if (forecast.jobs.length === 0) return;
  const { encodedAt, secondsLeft } = forecast;
  const unknown = encodedAt === null || secondsLeft === null;
  terminal.out(
    unknown
      ? '\nwhen all is encoded: unknown'
      : `\nall encoded at ${formatMoment(encodedAt)}, in ${formatDuration(secondsLeft)}`,
  );
}

type Listing<Row> = {
  readonly items: readonly Row[];
  readonly columns: readonly Column<Row>[];
  readonly none: string;
};

function tell<Row>({ items, columns, none }: Listing<Row>, { json }: ListOptions, terminal: Terminal): void {
  if (json) terminal.out(JSON.stringify(items, null, 2));
  else if (items.length === 0) terminal.err(none);
  else for (const line of formatTable(columns, items, terminal.columns)) terminal.out(line);
}

function provenLanes({ lanes }: Machine): string {
  const proven = lanes.filter((lane) => lane.proven).map((lane) => lane.id);
  return proven.length === 0 ? 'none proven' : proven.join(', ');
}

function ratesOf({ rates }: LaneView): string {
  return Object.entries(rates)
    .map(([format, rate]) => `${format} ${rate.framesPerSecond.toFixed(1)}`)
    .join(', ');
}
