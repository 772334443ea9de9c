import { describe, expect, it } from 'vitest';
import { type DeskMachine, placeDesk } from '../../../../coordinator/place/place-desk.ts';

function machine(
  agentId: string,
  changes: Partial<DeskMachine['reach']> & { free?: number } = {},
): DeskMachine {
  const { free = 2, ...reach } = changes;
  const volumes = { rushes: { readable: true, writable: false }, share: { readable: true, writable: true } };
  return { agentId, freeDeskPlaces: free, reach: { granary: false, volumes, ...reach } };
}

const need = { kind: 'join' as const, source: 'rushes', destination: 'share', avoid: new Set<string>() };

describe('placing desk tasks', () => {
  it('prefers the machine that sees the granary, then the least busy', () => {
    expect(placeDesk([machine('a', { free: 9 }), machine('b', { granary: true, free: 1 })], need)).toBe('b');
    expect(placeDesk([machine('a', { free: 1 }), machine('b', { free: 2 })], need)).toBe('b');
  });

  it('asks for the volume that the task works on', () => {
    const readOnly = machine('a', { volumes: { rushes: { readable: true, writable: false } } });
    expect(placeDesk([readOnly], need)).toBe('a');
    expect(placeDesk([readOnly], { ...need, kind: 'deliver' })).toBeNull();
    expect(placeDesk([machine('a', { volumes: {} })], { ...need, kind: 'inspect' })).toBeNull();
  });

  it('waits when everyone who could is busy', () => {
    expect(placeDesk([machine('a', { free: 0 })], need)).toBeNull();
  });

  it('passes over a machine where the step failed while another can', () => {
    const avoid = new Set(['a']);
    expect(placeDesk([machine('a', { granary: true }), machine('b')], { ...need, avoid })).toBe('b');
    expect(placeDesk([machine('a')], { ...need, avoid })).toBe('a');
  });
});
