// Small, valid values of a job's life for tests of the rooms that keep, place and carry jobs: 10 s at 24 frames/s,
// five grains of 48 frames, one sound track.
import type { CheckResult } from '#shared/check.ts';
import type { ErrorCode } from '#shared/errors.ts';
import type { MediaFacts } from '#shared/facts.ts';
import type { Failure } from '#shared/failure.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import { houseFormatSchema } from '#shared/house-format.ts';
import { grainRange, type Plan } from '#shared/plan.ts';
import type { GrainReport, GranaryFile, TaskResult } from '#shared/task.ts';
import type { JobEvent } from '../../coordinator/state/job-events.ts';

export type EventOf<Type extends JobEvent['type']> = Extract<JobEvent, { type: Type }>;

const noColour = { primaries: null, transfer: null, matrix: null, range: null, chromaLocation: null };

export const sampleFormat: HouseFormat = houseFormatSchema.parse({
  name: 'sample',
  version: 3,
  title: 'Sample',
  wrapper: 'mov',
  picture: {
    codec: 'vc3',
    profile: 'dnxhr_lb',
    pixelFormat: 'yuv422p',
    size: 'source',
    rate: 'source',
    interlace: 'keep',
    hdr: 'keep',
    gopSeconds: 2,
  },
  sound: { codec: 'pcm' },
  grainSeconds: 2,
  namePattern: '{stem}',
  damagedSource: 'refuse',
  checks: { likenessFloor: 0.9, seamDrop: 0.02, lossless: false },
  report: 'ledger',
});

export function sampleFacts(changes: Partial<MediaFacts> = {}): MediaFacts {
  return {
    schema: 1,
    bytes: 1_000_000,
    modifiedMs: 1_700_000_000_000.5,
    fingerprint: sampleHash('f'),
    demuxer: 'mov',
    containerStartSeconds: 0,
    containerDurationSeconds: 10,
    picture: samplePicture,
    pictureReason: 'the only picture track',
    sound: [],
    otherTracks: [],
    timecode: { text: '01:00:00:00', dropFrame: false, from: 'tmcd track' },
    reelName: null,
    tags: {},
    chapters: [],
    cuts: { verdict: 'anywhere', leadKeyframes: 0, reason: 'every picture is a keyframe', trials: [] },
    warnings: [],
    ...changes,
  };
}

const samplePicture: MediaFacts['picture'] = {
  index: 0,
  codec: 'prores',
  profile: null,
  pixelFormat: 'yuv422p10le',
  bitDepth: 10,
  width: 320,
  height: 180,
  sampleAspect: { num: 1, den: 1 },
  rotation: 0,
  fieldOrder: 'progressive',
  colour: noColour,
  hdr: null,
  closedCaptions: false,
  timeBase: { num: 1, den: 24_000 },
  startTicks: 0,
  lastTicks: 239_000,
  lastDurationTicks: 1000,
  frames: 240,
  constantRate: true,
  rate: { num: 24, den: 1 },
  rateReason: 'every step is 1000 ticks',
  allIntra: true,
  keyframes: [],
};

export const samplePlan: Plan = {
  rate: { num: 24, den: 1 },
  frames: 240,
  grainFrames: 48,
  gopFrames: 48,
  wholeBecause: null,
  picture: {
    resample: false,
    tolerant: false,
    deinterlace: null,
    toneMap: false,
    width: 320,
    height: 180,
    scale: false,
    sampleAspect: { num: 1, den: 1 },
    pixelFormat: 'yuv422p',
    colour: noColour,
    hdr: null,
    fieldOrder: 'progressive',
  },
  sound: [
    {
      index: 1,
      encoder: 'pcm_s16le',
      bitRate: null,
      fillGaps: false,
      startSeconds: 0,
      language: null,
      title: null,
      isDefault: true,
    },
  ],
  timecode: '01:00:00:00',
  estimatedBytes: 10_000_000,
  notes: [],
};

export function receivedEvent(changes: Partial<EventOf<'received'>> = {}): EventOf<'received'> {
  return {
    type: 'received',
    batchId: null,
    submission: {
      source: 'rushes:day03/A001.mov',
      format: 'sample',
      to: 'share:proxies',
      priority: 0,
      replace: false,
    },
    format: sampleFormat,
    deliverable: 'share:proxies/A001.mov',
    facts: null,
    ...changes,
  };
}

export function openedEvent(
  attempt: number,
  kind: EventOf<'opened'>['kind'],
  changes: Partial<EventOf<'opened'>> = {},
): EventOf<'opened'> {
  const encode = kind === 'encode';
  return {
    type: 'opened',
    attempt,
    kind,
    agentId: 'north-1',
    machine: 'north',
    lane: encode ? 'dnxhd' : null,
    stitchClass: encode ? 'dnxhd@7' : null,
    range: encode ? { first: 0, end: samplePlan.frames } : null,
    ...changes,
  };
}

export function endedEvent(attempt: number, result: TaskResult): EventOf<'ended'> {
  return { type: 'ended', attempt, outcome: { ok: true, result } };
}

export function sampleGrain(index: number, changes: Partial<GrainReport> = {}): GrainReport {
  const { first, end } = grainRange(samplePlan, index);
  return {
    index,
    frames: end - first,
    ...sampleFile(`grain-${index}.mov`),
    signature: 'dnxhr_lb/320x180',
    firstPicture: `picture-${first}`,
    nextPicture: end === samplePlan.frames ? null : `picture-${end}`,
    ...changes,
  };
}

export function sampleResult(kind: TaskResult['kind']): TaskResult {
  const results: Record<TaskResult['kind'], TaskResult> = {
    inspect: { kind: 'inspect', facts: sampleFacts() },
    encode: { kind: 'encode', frames: samplePlan.frames, seconds: 4, command: 'ffmpeg …' },
    sound: { kind: 'sound', tracks: [{ ...sampleFile('sound.mov'), startSeconds: 0 }] },
    join: { kind: 'join', ...sampleFile('joined.mov'), dropped: ['a data track'] },
    check: { kind: 'check', checks: [sampleCheck(true)] },
    deliver: { kind: 'deliver', ...sampleFile('joined.mov'), check: sampleCheck(true, 'bytes') },
  };
  return results[kind];
}

export function sampleCheck(ok: boolean, name: CheckResult['name'] = 'frame-count'): CheckResult {
  return { name, ok, measured: ok ? '240 frames' : '239 frames', limit: '240 frames', frames: [] };
}

export function sampleFailure(
  code: ErrorCode = 'encoder-failed',
  message = 'the encoder ended with code 1',
): Failure {
  return { code, message, stage: 'encode', machine: 'north', details: {} };
}

function sampleFile(name: string): GranaryFile {
  return { file: `jsample001/a1-${name}`, bytes: 1234, hash: sampleHash('a') };
}

function sampleHash(digit: string): GranaryFile['hash'] {
  return { algorithm: 'xxh128', hex: digit.repeat(32) };
}
