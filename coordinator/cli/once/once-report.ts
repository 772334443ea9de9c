// The reports of `once`: those of the coordinator, with the paths of this machine instead of volume paths.
import { join } from 'node:path';
import { isErrorCode } from '#shared/errors.ts';
import type { Problem, Report } from '#shared/job.ts';
import type { LocalVolume, OnceRequest, OnceSource } from './once-request.ts';

/** One entry of what `once --json` prints; the names of its keys are promised. */
export type OnceReport = Pick<
  Report,
  'state' | 'deliverable' | 'frames' | 'segments' | 'grains' | 'fallback' | 'error'
> & {
  readonly source: string;
  readonly checks: readonly Pick<Report['checks'][number], 'name' | 'ok' | 'measured' | 'limit'>[];
};

export function ofReport(request: OnceRequest, source: OnceSource, report: Report): OnceReport {
  const local = localiser(request);
  return {
    source: source.path,
    state: report.state,
    deliverable: report.deliverable === null ? null : local.path(report.deliverable),
    frames: report.frames,
    segments: report.segments,
    grains: report.grains,
    fallback: report.fallback,
    checks: report.checks.map(({ name, ok, measured, limit }) => ({ name, ok, measured, limit })),
    error: report.error === null ? null : { ...report.error, message: local.sentence(report.error.message) },
  };
}

/** A source that the coordinator didn't take. */
export function ofProblem(request: OnceRequest, source: OnceSource, problem: Problem): OnceReport {
  const code = problem.type.split(':').at(-1) ?? '';
  const message = localiser(request).sentence(problem.detail);
  const failure = {
    code: isErrorCode(code) ? code : ('internal' as const),
    message,
    stage: 'submit',
    details: {},
  };
  return {
    source: source.path,
    state: 'failed',
    deliverable: null,
    frames: null,
    segments: [],
    grains: 0,
    fallback: 'none',
    checks: [],
    error: failure,
  };
}

function localiser({ sources, destination }: OnceRequest) {
  const volumes: readonly LocalVolume[] = [destination, ...sources.map((source) => source.volume)];
  return {
    path(volumePath: string): string {
      const volume = volumes.find(({ name }) => volumePath.startsWith(`${name}:`));
      return volume ? join(volume.root, volumePath.slice(volume.name.length + 1)) : volumePath;
    },
    /** Whoever calls `once` has never heard of the volumes. */
    sentence(text: string): string {
      return volumes.reduce((told, { name, root }) => told.replaceAll(`${name}:`, join(root, '/')), text);
    },
  };
}
