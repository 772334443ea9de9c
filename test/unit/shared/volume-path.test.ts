import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  formatVolumePath,
  fromLocalPath,
  joinVolumePath,
  parseVolumePath,
  stemOf,
  toLocalPath,
} from '#shared/volume-path.ts';

describe('volume paths', () => {
  it('keeps every letter of a name, colons and newlines too', () => {
    const text = 'rushes:day 03/it\'s "A:001"\n-ü.mov';
    expect(formatVolumePath(parseVolumePath(text))).toBe(text);
  });

  it.each([
    ['rushes:../other/a.mov', 'outside-volume'],
    ['rushes:a/../../b.mov', 'outside-volume'],
    ['rushes:/etc/passwd', 'outside-volume'],
    ['rushes:a\0b', 'bad-request'],
    ['/etc/passwd', 'bad-request'],
    ['Rushes:a.mov', 'bad-request'],
    [':a.mov', 'bad-request'],
  ])('refuses %j as %s', (text, code) => {
    expect(() => parseVolumePath(text)).toThrow(expect.objectContaining({ code }));
  });

  it('takes dots that are no way up', () => {
    expect(parseVolumePath('rushes:a..b/...mov').path).toBe('a..b/...mov');
  });

  it('finds the same file on machines of both flavours', () => {
    const { path } = parseVolumePath('rushes:day03/A001.mov');
    expect(toLocalPath('/mnt/rushes', path, 'posix')).toBe('/mnt/rushes/day03/A001.mov');
    expect(toLocalPath('/', path, 'posix')).toBe('/day03/A001.mov');
    expect(toLocalPath('R:\\', path, 'windows')).toBe('R:\\day03\\A001.mov');
    expect(toLocalPath('\\\\server\\rushes', path, 'windows')).toBe('\\\\server\\rushes\\day03\\A001.mov');
    expect(fromLocalPath('R:\\', 'r:\\day03\\A001.mov', 'windows')).toBe(path);
    expect(fromLocalPath('/mnt/rushes', '/mnt/rushes-2/A001.mov', 'posix')).toBeNull();
  });

  it.each(['a\\..\\..\\b.mov', 'C:evil.mov', 'a/b:stream'])(
    'refuses %j on Windows, where it would be another place',
    (path) => {
      expect(() => toLocalPath('R:\\', path, 'windows')).toThrow(
        expect.objectContaining({ code: 'outside-volume' }),
      );
      expect(toLocalPath('/mnt', path, 'posix')).toBe(`/mnt/${path}`);
    },
  );

  it('goes to a POSIX path and back', () => {
    const part = fc
      .string({ minLength: 1 })
      .filter((text) => !/[/\0]/.test(text) && text !== '.' && text !== '..');
    fc.assert(
      fc.property(fc.array(part, { minLength: 1, maxLength: 4 }), (parts) => {
        const path = parts.join('/');
        expect(fromLocalPath('/mnt/v', toLocalPath('/mnt/v', path, 'posix'), 'posix')).toBe(path);
      }),
    );
  });

  it('names stems as people do', () => {
    expect(['day/A001.mov', '.hidden', 'a.tar.gz', 'noext'].map(stemOf)).toEqual([
      'A001',
      '.hidden',
      'a.tar',
      'noext',
    ]);
    expect(joinVolumePath({ volume: 'share', path: '' }, 'a.mov').path).toBe('a.mov');
    expect(joinVolumePath({ volume: 'share', path: 'proxies/' }, 'a.mov').path).toBe('proxies/a.mov');
  });
});
