// Language codes in the wrappers' own spelling.
import { describe, expect, it } from 'vitest';
import { carriedLanguage, sameLanguage } from '../../../../agent/media/wrapper-carries.ts';

describe('languages', () => {
  // ISO 639-2 has two codes for German, French, Chinese … ; QuickTime's table mixes them, and has some of its own.
  it.each([
    ['deu', 'ger'],
    ['fre', 'fra'],
    ['zho', 'chi'],
    ['nld', 'dut'],
    ['swe', 'sve'],
    ['ell', 'gre'],
    ['cze', 'ces'],
    ['en', 'eng'],
    ['eng', 'eng'],
  ])('%s becomes %s in QuickTime', (language, kept) => {
    expect(carriedLanguage('mov', language)).toBe(kept);
    expect(sameLanguage(language, kept)).toBe(true);
  });

  it('that QuickTime does not know are not kept there', () => {
    expect(carriedLanguage('mov', 'hrv')).toBeNull();
    expect(carriedLanguage('mp4', 'hrv')).toBe('hrv');
    expect(carriedLanguage('mkv', 'sr-Latn')).toBe('sr-Latn');
    expect(carriedLanguage('mp4', 'sr-Latn')).toBeNull();
  });

  it('that say nothing are alike', () => {
    expect(sameLanguage(null, 'und')).toBe(true);
    expect(sameLanguage('eng', null)).toBe(false);
  });
});
