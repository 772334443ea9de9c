// A machine of the farm for tests: alive, with one proven lane for the built-in editing proxy and one that isn't proven.
import type { Machine } from '#shared/job.ts';

export function sampleMachine(changes: Partial<Machine> = {}): Machine {
  return {
    id: 'north-1',
    name: 'north',
    alive: true,
    lastHeardAt: '2026-01-02T03:04:05.000Z',
    platform: 'linux',
    cpu: 'a processor',
    cores: 8,
    ffmpeg: '6.1',
    version: '1.2.3',
    encodePlaces: 1,
    busyPlaces: 0,
    lanes: [
      {
        id: 'dnxhd',
        encoder: 'dnxhd',
        codec: 'vc3',
        device: 'cpu',
        stitchClass: 'dnxhd@7',
        proven: true,
        reason: null,
        rates: { 'edit-proxy@1': { framesPerSecond: 60, megapixelsPerSecond: 120 } },
      },
      {
        id: 'hevc_nvenc',
        encoder: 'hevc_nvenc',
        codec: 'h265',
        device: 'gpu-0',
        stitchClass: 'hevc_nvenc@7',
        proven: false,
        reason: 'no driver',
        rates: {},
      },
    ],
    reach: { granary: true, volumes: { rushes: { readable: true, writable: false } } },
    ...changes,
  };
}
