// SMPTE ST 12-1 arithmetic against the figures of the standard and against an independent library.
import fc from 'fast-check';
import smpteTimecode from 'smpte-timecode';
import { describe, expect, it } from 'vitest';
import { rational } from '#shared/rational.ts';
import {
  allowsDropFrame,
  formatTimecode,
  framesPerDay,
  parseTimecode,
  timecodeRate,
} from '#shared/timecode.ts';

const drop30 = { nominal: 30, dropFrame: true };
const drop60 = { nominal: 60, dropFrame: true };

describe('drop-frame timecode', () => {
  // SMPTE ST 12-1: numbers :00 and :01 are skipped each minute except every tenth.
  it.each([
    [1799, '00:00:59;29'],
    [1800, '00:01:00;02'],
    [17981, '00:09:59;29'],
    [17982, '00:10:00;00'],
    [107892, '01:00:00;00'],
    [2589407, '23:59:59;29'],
  ])('labels frame %i as %s', (frame, label) => {
    expect(formatTimecode(frame, drop30)).toBe(label);
    expect(parseTimecode(label, 30)).toEqual({ frame, rate: drop30 });
  });

  it('counts 17 982 frames in ten minutes, 107 892 in an hour, 2 589 408 in a day (SMPTE ST 12-1)', () => {
    expect(parseTimecode('00:10:00;00', 30)?.frame).toBe(17_982);
    expect(parseTimecode('01:00:00;00', 30)?.frame).toBe(107_892);
    expect(framesPerDay(drop30)).toBe(2_589_408);
  });

  it('skips four numbers at 59.94: 35 964 in ten minutes, 215 784 in an hour', () => {
    expect(parseTimecode('00:10:00;00', 60)?.frame).toBe(35_964);
    expect(parseTimecode('01:00:00;00', 60)?.frame).toBe(215_784);
    expect(framesPerDay(drop60)).toBe(5_178_816);
  });

  it.each([
    '00:01:00;00',
    '00:01:00;01',
    '01:01:00;00',
    '24:00:00;00',
    '00:60:00;02',
    '00:00:60;02',
    '00:00:00;30',
    '1:00:00;00',
    '',
  ])('has no frame for %s', (label) => {
    expect(parseTimecode(label, 30)).toBeNull();
  });

  it('is defined for 30000/1001 and 60000/1001 only', () => {
    expect([rational(30000, 1001), rational(60000, 1001)].every(allowsDropFrame)).toBe(true);
    expect([rational(24000, 1001), rational(30), rational(25)].some(allowsDropFrame)).toBe(false);
  });

  it('agrees with the smpte-timecode package over the whole day', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 2_589_407 }), (frame) => {
        expect(formatTimecode(frame, drop30)).toBe(new smpteTimecode(frame, 29.97, true).toString());
      }),
      { numRuns: 2000 },
    );
  });
});

describe('timecode at any rate', () => {
  it('goes to a label and back without loss', () => {
    const rates = fc.constantFrom(
      drop30,
      drop60,
      ...[24, 25, 30, 50, 60].map((nominal) => ({ nominal, dropFrame: false })),
    );
    fc.assert(
      fc.property(rates, fc.nat(), (rate, number) => {
        const frame = number % framesPerDay(rate);
        expect(parseTimecode(formatTimecode(frame, rate), rate.nominal)).toEqual({ frame, rate });
      }),
      { numRuns: 2000 },
    );
  });

  it('wraps after 24 hours', () => {
    expect(formatTimecode(framesPerDay(drop30), drop30)).toBe('00:00:00;00');
  });

  it('counts 24 labels a second at 24000/1001', () => {
    expect(timecodeRate(rational(24000, 1001), false)).toEqual({ nominal: 24, dropFrame: false });
  });
});
