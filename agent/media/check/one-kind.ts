// The check `one-kind` (N3): one sample description for the whole film, the promised name on it, no parameter sets inside
// the stream, and random access points where planned and nowhere else.
import type { CheckResult } from '#shared/check.ts';
import type { PictureCodec, Wrapper } from '#shared/house-format.ts';
import { counted, listed, verdict } from './verdict.ts';

export type KindFacts = {
  readonly codec: PictureCodec;
  readonly wrapper: Wrapper;
  /** Null for Matroska, which has one codec description a track by its structure. */
  readonly entries: { readonly names: readonly string[]; readonly headerFirst: boolean } | null;
  /** Null for codecs without parameter sets. */
  readonly parameterSets: { readonly packets: number; readonly kinds: number } | null;
  readonly accessPoints: {
    readonly missing: readonly number[];
    readonly extra: readonly number[];
    readonly found: number;
  };
};

/** Names of sample descriptions that promise parameter sets outside the stream, and that common players open. */
const entryNames: Readonly<Record<PictureCodec, readonly string[]>> = {
  h264: ['avc1'],
  h265: ['hvc1'],
  av1: ['av01'],
  vc3: ['AVdh', 'AVdn'],
  prores: ['apco', 'apcs', 'apcn', 'apch', 'ap4h', 'ap4x'],
  ffv1: ['FFV1'],
};

export function checkOneKind(facts: KindFacts): CheckResult {
  const { missing, extra, found } = facts.accessPoints;
  const faults = [
    ...entryFaults(facts),
    ...setFaults(facts),
    ...pointFaults(
      missing,
      'planned random access point is absent',
      'planned random access points are absent',
    ),
    ...pointFaults(extra, 'random access point was not planned', 'random access points were not planned'),
  ];
  return verdict({
    name: 'one-kind',
    ok: faults.length === 0,
    measured: listed(faults, `one description, ${counted(found, 'random access point')} as planned`),
    limit: 'one sample description, parameter sets only in it, random access points exactly where planned',
    frames: [...missing, ...extra],
  });
}

function entryFaults({ codec, wrapper, entries }: KindFacts): string[] {
  if (wrapper === 'mkv') return [];
  if (entries === null || entries.names.length === 0) return ['no sample description can be read'];
  const [name = ''] = entries.names;
  return [
    ...(entries.names.length > 1
      ? [`${entries.names.length} sample descriptions: ${entries.names.join(', ')}`]
      : []),
    ...(entryNames[codec].includes(name)
      ? []
      : [`the sample description is named ${name} where ${entryNames[codec].join(' or ')} is due`]),
    ...(wrapper === 'mp4' && !entries.headerFirst
      ? ['the header stands after the media, so playing cannot start at once']
      : []),
  ];
}

function setFaults({ codec, parameterSets }: KindFacts): string[] {
  if (parameterSets === null) return [];
  // AV1 repeats its sequence header at random access points by design (AV1 5.5, section 7.5); it may not change.
  if (codec === 'av1')
    return parameterSets.kinds <= 1 ? [] : [`${parameterSets.kinds} different sequence headers`];
  return parameterSets.packets === 0
    ? []
    : [`parameter sets inside ${counted(parameterSets.packets, 'packet')}`];
}

function pointFaults(frames: readonly number[], one: string, many: string): string[] {
  return frames.length === 0 ? [] : [`${frames.length} ${frames.length === 1 ? one : many}`];
}
