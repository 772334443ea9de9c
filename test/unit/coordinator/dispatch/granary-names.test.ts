import { expect, it } from 'vitest';
import { granaryFileName, parseGranaryName } from '../../../../coordinator/dispatch/granary-names.ts';

it('a name says whose it is', () => {
  const name = { jobId: 'jsample001', attempt: 12, name: 'grain-000003.mov' };
  expect(granaryFileName(name)).toBe('jsample001/a12-grain-000003.mov');
  expect(parseGranaryName('jsample001/a12-grain-000003.mov')).toEqual(name);
});

it.each([
  '',
  'jsample001',
  'jsample001/',
  'jsample001/grain.mov',
  'jsample001/a0-grain.mov',
  'jsample001/a01-grain.mov',
  'jsample001/a1-',
  'jsample001/a1-.hidden',
  'jsample001/a1-../../etc',
  'jsample001/a1-x/y',
  'jsample001/a1-x\\y',
  'jsample001/a1-x\n',
  'jsample001/a1-x\0',
  'jsample001/../jsample002/a1-x',
  '../jsample001/a1-x',
  '/jsample001/a1-x',
  'mark.txt',
  'mark.txt/a1-x',
  `jsample001/a1-${'x'.repeat(129)}`,
])('%j is no granary file', (file) => {
  expect(parseGranaryName(file)).toBeNull();
});

it.each([
  { jobId: '../j000000001', attempt: 1, name: 'x' },
  { jobId: 'jsample001', attempt: 0, name: 'x' },
  { jobId: 'jsample001', attempt: 1.5, name: 'x' },
  { jobId: 'jsample001', attempt: 1, name: '../x' },
  { jobId: 'jsample001', attempt: 1, name: '' },
])('$jobId, $attempt, $name is refused', (name) => {
  expect(() => granaryFileName(name)).toThrow(expect.objectContaining({ code: 'bad-request' }));
});
