// High dynamic range: mastering display (SMPTE ST 2086) and content light level (CTA-861.3), and what can't be kept.

import type { Hdr } from '#shared/facts.ts';
import { parseRational } from '#shared/rational.ts';
import { type ProbeFrame, type ProbeStream, sideField } from './probe-report.ts';

type SideData = ProbeStream['side_data_list'][number];

/** From the track or its first pictures; null when neither says anything. */
export function lightLevelsOf(track: ProbeStream, frames: readonly ProbeFrame[]): Hdr | null {
  const all = [...track.side_data_list, ...frames.flatMap((frame) => frame.side_data_list)];
  const masteringDisplay = firstOf(all, 'Mastering display metadata', readMastering);
  const contentLight = firstOf(all, 'Content light level metadata', readContentLight);
  return masteringDisplay || contentLight ? { masteringDisplay, contentLight } : null;
}

/** Per-picture light data that no house format carries on: one sentence each. */
export function dynamicLightWarnings(track: ProbeStream, frames: readonly ProbeFrame[]): string[] {
  const types = [...track.side_data_list, ...frames.flatMap((frame) => frame.side_data_list)].map(
    (data) => data.side_data_type,
  );
  const has = (part: string) => types.some((type) => type.includes(part));
  return [
    ...(has('DOVI') || has('Dolby Vision')
      ? ['the picture has Dolby Vision data, which a new encode does not carry']
      : []),
    ...(has('HDR10+') || has('2094-40')
      ? ['the picture has HDR10+ data (SMPTE ST 2094-40), which a new encode does not carry']
      : []),
  ];
}

function firstOf<T>(all: readonly SideData[], type: string, readIt: (data: SideData) => T | null): T | null {
  for (const data of all) {
    const value = data.side_data_type === type ? readIt(data) : null;
    if (value !== null) return value;
  }
  return null;
}

function readMastering(data: SideData): Hdr['masteringDisplay'] {
  const names = ['red', 'green', 'blue', 'white_point'].flatMap((name) => [`${name}_x`, `${name}_y`]);
  const values = [...names, 'min_luminance', 'max_luminance'].map((name) =>
    parseRational(sideField(data, name)),
  );
  const [redX, redY, greenX, greenY, blueX, blueY, whiteX, whiteY, minLuminance, maxLuminance] = values;
  if (!redX || !redY || !greenX || !greenY || !blueX || !blueY || !whiteX || !whiteY) return null;
  if (!minLuminance || !maxLuminance) return null;
  return {
    red: [redX, redY],
    green: [greenX, greenY],
    blue: [blueX, blueY],
    white: [whiteX, whiteY],
    minLuminance,
    maxLuminance,
  };
}

function readContentLight(data: SideData): Hdr['contentLight'] {
  const [maxContent, maxAverage] = [
    Number(sideField(data, 'max_content')),
    Number(sideField(data, 'max_average')),
  ];
  const plain = Number.isInteger(maxContent) && Number.isInteger(maxAverage) && maxContent + maxAverage > 0;
  return plain ? { maxContent, maxAverage } : null;
}
