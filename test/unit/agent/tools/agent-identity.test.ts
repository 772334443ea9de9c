import { describe, expect, test } from 'vitest';
import { agentIdSchema } from '#shared/schema-parts.ts';
import { slugOf } from '../../../../agent/tools/agent-identity.ts';

describe('the folder name of an agent', () => {
  test.each([
    ['Edit Suite 2', 'edit-suite-2'],
    ['MAC-PRO.local', 'mac-pro-local'],
    ['Schnittplatz Süd', 'schnittplatz-s-d'],
    ['../../etc', 'etc'],
    ['編集室', 'agent'],
    ['x'.repeat(64), 'x'.repeat(40)],
  ])('for %s is %s', (name, slug) => {
    expect(slugOf(name)).toBe(slug);
    expect(agentIdSchema.safeParse(`${slug}-0123abcd`).success).toBe(true);
  });
});
