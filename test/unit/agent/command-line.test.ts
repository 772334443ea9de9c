// Options and variables of the agent, read into the values of its config.
import path from 'node:path';
import { describe, expect, test } from 'vitest';
import { commandLineHelp, readCommandLine, readEnvironment } from '../../../agent/command-line.ts';

describe('the command line', () => {
  test('gives the values of the config', () => {
    const words = [
      ['--coordinator', 'http://server:7311', '--name', 'edit-1', '--volume', 'rushes=/mnt/rushes'],
      ['--volume', 'share=/mnt/a=b', '--encode-places', '0', '--formats', 'edit-proxy,review-copy'],
      ['--low-priority', 'false', '--log-format', 'text', '--end-with-parent'],
    ].flat();
    const line = readCommandLine(words);
    expect(line.values).toEqual({
      coordinator: 'http://server:7311',
      name: 'edit-1',
      volumes: { rushes: path.resolve('/mnt/rushes'), share: path.resolve('/mnt/a=b') },
      encodePlaces: 0,
      formats: ['edit-proxy', 'review-copy'],
      lowPriority: false,
      logFormat: 'text',
    });
    expect(line).toMatchObject({ endWithParent: true, configFile: null, help: false });
  });

  test('makes folders absolute, because only it knows where it was written', () => {
    expect(readCommandLine(['--state', 'here']).values['state']).toBe(path.resolve('here'));
  });

  test('hands on what is no number or flag, for the check to say what was expected', () => {
    const { values } = readCommandLine([
      '--encode-places',
      'two',
      '--low-priority',
      'maybe',
      '--volume',
      'rushes',
    ]);
    expect(values).toEqual({ encodePlaces: 'two', lowPriority: 'maybe', volumes: { rushes: '' } });
  });

  test('knows where a key was said', () => {
    expect(readCommandLine([]).place(['encodePlaces'])).toBe('--encode-places');
    expect(readCommandLine([]).place(['volumes', 'rushes'])).toBe('--volume');
  });

  test.each([[['--nmae', 'x']], [['--name']], [['word']]])('refuses %j', (words) => {
    expect(() => readCommandLine(words)).toThrow(expect.objectContaining({ code: 'bad-config' }));
  });

  test('has every option in its help', () => {
    const help = commandLineHelp();
    for (const option of ['--coordinator', '--volume', '--encode-places', '--config', '--end-with-parent']) {
      expect(help).toContain(option);
    }
  });
});

describe('the environment', () => {
  test('gives the same values under NIGHTMILL_ names', () => {
    const { values, configFile } = readEnvironment({
      NIGHTMILL_COORDINATOR: 'http://server:7311',
      NIGHTMILL_ENCODE_PLACES: '3',
      NIGHTMILL_VOLUMES: 'rushes=/mnt/rushes;share=/mnt/share',
      NIGHTMILL_FORMATS: 'edit-proxy',
      NIGHTMILL_LOG_LEVEL: 'debug',
      NIGHTMILL_AGENT_CONFIG: '/etc/nightmill/agent.yaml',
      NIGHTMILL_LISTEN: '0.0.0.0:7311',
      HOME: '/root',
    });
    expect(values).toEqual({
      coordinator: 'http://server:7311',
      encodePlaces: 3,
      volumes: { rushes: path.resolve('/mnt/rushes'), share: path.resolve('/mnt/share') },
      formats: ['edit-proxy'],
      logLevel: 'debug',
    });
    expect(configFile).toBe('/etc/nightmill/agent.yaml');
  });

  test('takes an empty variable for an absent one', () => {
    expect(readEnvironment({ NIGHTMILL_NAME: '' }).values).toEqual({});
  });

  test('knows where a key was said', () => {
    expect(readEnvironment({}).place(['tokenFile'])).toBe('NIGHTMILL_TOKEN_FILE');
  });
});
