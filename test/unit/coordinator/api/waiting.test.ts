// Why a job waits, told by what the machines that are there lend and reach.
import { expect, test } from 'vitest';
import type { Machine } from '#shared/job.ts';
import { waitingFor } from '../../../../coordinator/api/views/waiting-view.ts';
import { receivedEvent, samplePlan } from '../../../support/job-builders.ts';
import { storyUpTo, tell } from '../../../support/job-story.ts';

const received = receivedEvent();
const volume = received.submission.source.split(':')[0] ?? '';
const { codec } = received.format.picture;
const inspected = tell([...storyUpTo('inspected'), { type: 'planned', plan: samplePlan }]);

function machine(change: Partial<Machine>): Machine {
  return {
    ...{ id: 'north-00000001', name: 'north', alive: true, lastHeardAt: '2026-11-25T00:00:00.000Z' },
    ...{ platform: 'linux', cpu: 'some', cores: 2, ffmpeg: '5.1', version: '0.1.0' },
    ...{ encodePlaces: 1, busyPlaces: 0 },
    lanes: [lane(true)],
    reach: { granary: false, volumes: { [volume]: { readable: true, writable: true } } },
    ...change,
  };
}

function lane(proven: boolean): Machine['lanes'][number] {
  return {
    id: 'lane',
    codec,
    encoder: 'some',
    device: 'cpu',
    stitchClass: 'some',
    proven,
    reason: null,
    rates: {},
  };
}

test.each<[RegExp, Machine[]]>([
  [/no machine that is there reads the volume/, []],
  [/no machine that is there reads the volume/, [machine({ alive: false })]],
  [/no machine that is there lends an encoder/, [machine({ encodePlaces: 0 })]],
  [/no machine that is there has a proven lane for/, [machine({ lanes: [lane(false)] })]],
  [
    /could encode it \(south\) do not read the volume/,
    [
      machine({ encodePlaces: 0 }),
      machine({ id: 'south-00000002', name: 'south', reach: { granary: false, volumes: {} } }),
    ],
  ],
  [/every place that could encode it is taken/, [machine({ busyPlaces: 1 })]],
])('%s', (reason, machines) => {
  expect(waitingFor(inspected, machines)).toMatch(reason);
});

test('a job that is worked on, or could be at once, waits for nothing', () => {
  expect(waitingFor(inspected, [machine({})])).toBeNull();
  expect(waitingFor(tell(storyUpTo('encoding')), [])).toBeNull();
  expect(waitingFor(tell(storyUpTo('delivered')), [])).toBeNull();
});
