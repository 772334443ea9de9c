// The check `labels`: what the deliverable says of itself is what the plan says, as far as its wrapper can say it.
import type { CheckResult } from '#shared/check.ts';
import type { Hdr, MediaFacts } from '#shared/facts.ts';
import type { HouseFormat } from '#shared/house-format.ts';
import type { Plan } from '#shared/plan.ts';
import { formatRational, type Rational, sameRational, subtract, toNumber } from '#shared/rational.ts';
import { colourOf, fieldOrderOf, rotationOf, sampleAspectOf } from '../facts/labels.ts';
import { lightLevelsOf } from '../facts/light-levels.ts';
import type { ProbeFrame, ProbeHeader, ProbeStream } from '../facts/probe-report.ts';
import { differs } from './differs.ts';
import { soundLabelFaults } from './sound-labels.ts';
import { textLabelFaults } from './text-labels.ts';
import { listed, verdict } from './verdict.ts';

export type LabelFacts = {
  readonly facts: Pick<MediaFacts, 'reelName' | 'tags' | 'chapters'>;
  readonly format: HouseFormat;
  readonly plan: Plan;
  /** The deliverable's header, its picture track, its first pictures decoded. */
  readonly header: ProbeHeader;
  readonly picture: ProbeStream;
  readonly frames: readonly ProbeFrame[];
  /** Where frame 0 stands, seconds. */
  readonly start: Rational;
};

export function checkLabels(labels: LabelFacts): CheckResult {
  const faults = [
    ...shapeFaults(labels),
    ...colourFaults(labels),
    ...hdrFaults(labels),
    ...soundLabelFaults(labels),
    ...textLabelFaults(labels),
  ];
  return verdict({
    name: 'labels',
    ok: faults.length === 0,
    measured: listed(faults, `${sayShape(labels)}; all labels as planned`, 12),
    limit:
      'timecode, size, aspect, turn, field order, colour, light levels, languages, titles, chapters and tags as planned',
  });
}

function shapeFaults({ plan, picture, frames }: LabelFacts): string[] {
  const way = plan.picture;
  const aspect = sampleAspectOf(picture.sample_aspect_ratio);
  const { order } = fieldOrderOf(picture.field_order, frames, picture.codec_name);
  return [
    ...differs('the size', `${picture.width}×${picture.height}`, `${way.width}×${way.height}`),
    ...differs('the sample format', plainFormat(picture.pix_fmt), plainFormat(way.pixelFormat)),
    ...(sameRational(aspect, way.sampleAspect)
      ? []
      : differs('the sample aspect', formatRational(aspect), formatRational(way.sampleAspect))),
    ...differs('the turn', `${rotationOf(picture).degrees}°`, '0°'),
    ...differs('the field order', order, way.fieldOrder),
    ...claimFaults(picture.field_order, way.fieldOrder),
  ];
}

/** The wrapper must not claim another order than the pictures have; to claim none is no lie. */
function claimFaults(claim: string | undefined, due: Plan['picture']['fieldOrder']): string[] {
  if (claim === undefined || claim === 'unknown') return [];
  return differs(
    "the wrapper's field order",
    claim,
    { progressive: 'progressive', 'top-first': 'tt', 'bottom-first': 'bb' }[due],
  );
}

/** ffmpeg's old names for full range formats mean the same samples. */
function plainFormat(format: string | undefined): string | null {
  return format?.replace('yuvj', 'yuv') ?? null;
}

/** Codecs, or their wrappers, that keep the position of chroma samples. */
const keepsChroma: ReadonlySet<string> = new Set(['h264', 'h265', 'ffv1']);

function colourFaults({ format, plan, picture, frames }: LabelFacts): string[] {
  const due = plan.picture.colour;
  const found = colourOf(picture, frames[0]);
  const names = ['primaries', 'transfer', 'matrix', 'range'] as const;
  const chroma = keepsChroma.has(format.picture.codec) ? (['chromaLocation'] as const) : [];
  // What the plan leaves open may be anything.
  return [...names, ...chroma].flatMap((name) =>
    due[name] === null ? [] : differs(`the colour label ${name}`, found[name], due[name]),
  );
}

/** Encoders store these numbers in their own units. */
const hdrTolerance = 0.001;

function hdrFaults({ plan, picture, frames }: LabelFacts): string[] {
  const due = plan.picture.hdr;
  if (due === null) return [];
  const found = lightLevelsOf(picture, frames);
  return [...masteringFaults(found, due), ...lightFaults(found, due)];
}

function masteringFaults(found: Hdr | null, { masteringDisplay: due }: Hdr): string[] {
  if (due === null) return [];
  const has = found?.masteringDisplay;
  if (!has) return ['the mastering display data are absent'];
  const pairs = [
    ...(['red', 'green', 'blue', 'white'] as const).flatMap(
      (name) =>
        [
          [has[name][0], due[name][0]],
          [has[name][1], due[name][1]],
        ] as const,
    ),
    [has.minLuminance, due.minLuminance] as const,
  ];
  const far = pairs.some(([a, b]) => Math.abs(toNumber(subtract(a, b))) > hdrTolerance);
  const farPeak = Math.abs(toNumber(has.maxLuminance) / toNumber(due.maxLuminance) - 1) > hdrTolerance;
  return far || farPeak ? ['the mastering display data are others'] : [];
}

function lightFaults(found: Hdr | null, { contentLight: due }: Hdr): string[] {
  if (due === null) return [];
  const say = (light: Hdr['contentLight'] | undefined) =>
    light ? `${light.maxContent}/${light.maxAverage}` : null;
  return differs('the content light level', say(found?.contentLight), say(due));
}

function sayShape({ plan, picture }: LabelFacts): string {
  return `${picture.width}×${picture.height}${plan.timecode === null ? '' : `, timecode ${plan.timecode}`}`;
}
