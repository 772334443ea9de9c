// The pictures given to the encoders over all segments of a film, beside those of one pass over the whole file, through the
// decoding side of the encoder's own command; the reference is one plain ffmpeg pass that knows nothing of ours.
import { copyFile } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { execa } from 'execa';
import { expect } from 'vitest';
import type { MediaFacts } from '#shared/facts.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import { builtInFormats } from '#shared/house-formats.ts';
import { grainCount, grainRange, type Plan } from '#shared/plan.ts';
import { multiply, rational, toDecimal } from '#shared/rational.ts';
import { gridClock, gridFilters, sourceInput } from '../../../agent/media/decode-args.ts';
import { inspectSource } from '../../../agent/tasks/inspect-source.ts';
import { makePlan } from '../../../coordinator/plan/make-plan.ts';
import { seekSeconds } from '../../../coordinator/plan/seek-point.ts';
import { makeSource, type SourceName } from '../sources/make-source.ts';
import { makeTaskWorld } from '../tasks/task-world.ts';

const formats = new Map(builtInFormats.map((format) => [format.name, format]));
const pal: HouseFormat = {
  ...named('review-copy'),
  picture: { ...named('review-copy').picture, rate: rational(25) },
};

/** In segments of the format's plan, or of a format at another rate. */
export async function expectPicturesOfOnePass(name: SourceName, rate: 'own' | 'pal' = 'own'): Promise<void> {
  const { path } = await makeSource(name);
  await expectOnePass(path, await inspect(path), rate === 'own' ? named('review-copy') : pal);
}

async function inspect(path: string): Promise<MediaFacts> {
  await using world = await makeTaskWorld();
  await copyFile(path, join(world.volume, basename(path)));
  const { facts } = await inspectSource(
    { jobId: 'jn1test000', attempt: 1, kind: 'inspect', path: `media:${basename(path)}` },
    world.context,
  );
  return facts;
}

async function expectOnePass(path: string, facts: MediaFacts, format: HouseFormat): Promise<void> {
  const plan = makePlan({ facts, format, grainSeconds: 1, damageMet: false });
  const whole = await hashes(onePass(path, facts, plan));
  expect(whole).toHaveLength(plan.frames);
  for (const range of segmentsOf(plan)) {
    expect(await hashes(segment({ path, facts, plan }, range)), `frames ${range.first}–${range.end}`).toEqual(
      whole.slice(range.first, range.end),
    );
  }
}

type Range = { readonly first: number; readonly end: number };

/** Uneven segments on grain borders, a last one of one grain among them. */
function segmentsOf(plan: Plan): Range[] {
  const count = grainCount(plan);
  const borders = [...new Set([0, 1, Math.floor(count / 2), count - 1, count])]
    .filter((border) => border <= count)
    .toSorted((a, b) => a - b);
  return borders.slice(1).map((border, at) => ({
    first: grainRange(plan, borders[at] ?? 0).first,
    end: grainRange(plan, border - 1).end,
  }));
}

type Planned = { readonly path: string; readonly facts: MediaFacts; readonly plan: Plan };

/** Ours: what an encoder process decodes for a segment. */
function segment({ path, facts, plan }: Planned, { first, end }: Range): string[] {
  const { keyframes: _, ...track } = facts.picture;
  const filters = [
    ...gridFilters({ track, way: plan.picture, rate: plan.rate, first, toEnd: end === plan.frames }),
    ...gridClock(plan.rate),
    `trim=end_frame=${end - first}`,
  ];
  return [
    ...sourceInput(path, facts, seekSeconds(facts, plan, first)),
    '-map',
    `0:${track.index}`,
    '-vf',
    filters.join(','),
  ];
}

/** Theirs: the whole file, from its first byte, with the filters that the plan names and nothing else. */
function onePass(path: string, { picture }: MediaFacts, plan: Plan): string[] {
  const filters: string[] = [];
  if (plan.picture.deinterlace !== null)
    filters.push(
      `bwdif=mode=send_frame:parity=${plan.picture.deinterlace === 'top-first' ? 'tff' : 'bff'}:deint=all`,
    );
  if (plan.picture.resample) {
    const start = toDecimal(multiply(rational(picture.startTicks), picture.timeBase), 9, 'nearest');
    // A last picture is held, as a player does; the filter alone would drop one whose duration it doesn't know.
    filters.push(
      'tpad=stop_mode=clone:stop=5',
      `fps=fps=${plan.rate.num}/${plan.rate.den}:start_time=${start}:round=near`,
      `trim=end_frame=${plan.frames}`,
    );
  }
  const chain = filters.length === 0 ? [] : ['-vf', filters.join(',')];
  return ['-copyts', '-i', `file:${path}`, '-map', `0:${picture.index}`, ...chain];
}

async function hashes(args: string[]): Promise<string[]> {
  const { stdout } = await execa('ffmpeg', [
    '-nostdin',
    '-v',
    'error',
    ...args,
    '-fps_mode',
    'passthrough',
    '-f',
    'framehash',
    '-hash',
    'murmur3',
    '-',
  ]);
  return stdout
    .split('\n')
    .flatMap((line) => (line.startsWith('0,') ? [line.slice(line.lastIndexOf(',') + 1).trim()] : []));
}

function named(name: string): HouseFormat {
  const format = formats.get(name);
  if (!format) throw new Error(`no format ${name}`);
  return format;
}
