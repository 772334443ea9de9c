// The agent's config: what wins, and that every problem is told with its place and what was expected.
import { describe, expect, test } from 'vitest';
import { type ConfigSource, checkConfig } from '../../../agent/config.ts';

const minimal = source({ coordinator: 'http://server:7311' });

describe('a config', () => {
  test('has a default for every key but the coordinator', () => {
    const config = checkConfig([minimal], 'posix');
    expect(config).toMatchObject({ encodePlaces: 1, deskPlaces: 2, volumes: {}, lowPriority: true });
    expect(config.formats).toEqual(['edit-proxy', 'review-copy', 'storage-copy', 'lossless-master']);
    expect(config.name).not.toBe('');
  });

  test('takes the later source, and volumes from all of them', () => {
    const file = source({
      encodePlaces: 3,
      deskPlaces: 4,
      volumes: { rushes: '/mnt/a', share: '/mnt/share' },
    });
    const line = source({ encodePlaces: 0, volumes: { rushes: '/mnt/b' } });
    const config = checkConfig([minimal, file, line], 'posix');
    expect(config).toMatchObject({ encodePlaces: 0, deskPlaces: 4 });
    expect(config.volumes).toEqual({ rushes: '/mnt/b', share: '/mnt/share' });
  });

  test.each([
    ['windows', 'D:\\rushes'],
    ['windows', 'D:/rushes'],
    ['windows', '\\\\server\\rushes'],
    ['posix', '/mnt/rushes'],
  ] as const)('on %s takes the volume folder %s', (flavour, folder) => {
    const volumes = { rushes: folder };
    const state = source({ state: folder, volumes });
    expect(checkConfig([minimal, state], flavour).volumes).toEqual(volumes);
  });

  test.each([
    ['windows', '/mnt/rushes'],
    ['windows', '\\rushes'],
    ['windows', 'D:rushes'],
    ['posix', 'D:\\rushes'],
    ['posix', 'rushes'],
    ['posix', ''],
  ] as const)('on %s refuses the volume folder %j', (flavour, folder) => {
    const absolute = flavour === 'windows' ? 'D:\\state' : '/state';
    const volumes = source({ state: absolute, volumes: { rushes: folder } });
    expect(problems([minimal, volumes], flavour)).toEqual([
      expect.stringMatching(/^file:9: volumes\.rushes: expected an absolute path/),
    ]);
  });
});

describe('a problem', () => {
  test('names an unknown key, its place and the keys that there are', () => {
    const [problem] = problems([minimal, source({ encodePlace: 2 })]);
    expect(problem).toMatch(/^file:9: unknown key encodePlace; the keys are .*encodePlaces/);
  });

  test('is told for every wrong value at once', () => {
    const file = source({ encodePlaces: -1, formats: ['edit-proxy', 'mystery'] });
    const line = source({ deskPlaces: 'two' }, () => '--desk-places');
    expect(problems([minimal, file, line])).toEqual([
      expect.stringMatching(/^file:9: encodePlaces: .*>=0/),
      expect.stringMatching(/^--desk-places: deskPlaces: expected number, received string/),
      expect.stringMatching(/^file:9: formats\.1: expected one of .*edit-proxy/),
    ]);
  });

  test('names the source that the value came from, not one that was overruled', () => {
    const file = source({ encodePlaces: 2 });
    const line = source({ encodePlaces: 900 }, () => '--encode-places');
    expect(problems([minimal, file, line])).toEqual([expect.stringMatching(/^--encode-places: /)]);
  });

  test('is a missing coordinator', () => {
    expect(problems([source({})])).toEqual([expect.stringContaining('give --coordinator URL')]);
  });

  test.each(['server:7311', 'ftp://server', 'http://'])('is the coordinator %s', (coordinator) => {
    expect(problems([source({ coordinator })])).toEqual([
      expect.stringContaining('expected the URL of the coordinator'),
    ]);
  });

  test('is an agent that lends nothing', () => {
    expect(problems([minimal, source({ encodePlaces: 0, deskPlaces: 0 })])).toEqual([
      expect.stringContaining('would lend nothing'),
    ]);
  });

  test('is a volume name that no volume path can have', () => {
    expect(problems([minimal, source({ volumes: { 'Day 3': '/mnt/day3' } })])).toEqual([
      expect.stringMatching(/^file:9: volumes\.Day 3: expected small letters/),
    ]);
  });
});

function source(
  values: Record<string, unknown>,
  place: ConfigSource['place'] = () => 'file:9',
): ConfigSource {
  return { values, place };
}

function problems(sources: ConfigSource[], flavour: 'posix' | 'windows' = 'posix'): string[] {
  try {
    checkConfig(sources, flavour);
  } catch (error) {
    expect(error).toMatchObject({ code: 'bad-config' });
    return (error as Error).message.split('\n');
  }
  throw new Error('the config was taken');
}
