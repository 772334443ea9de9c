// Every state with every event: which are taken and where they lead. Common practice, no source: the table is ours.
import { describe, expect, it } from 'vitest';
import type { JobState } from '#shared/job.ts';
import { applyEvent } from '../../../../coordinator/state/apply-event.ts';
import type { JobEvent } from '../../../../coordinator/state/job-events.ts';
import type { JobRecord } from '../../../../coordinator/state/job-record.ts';
import { openedEvent, receivedEvent, sampleFailure, samplePlan } from '../../../support/job-builders.ts';
import { storyUpTo, tell } from '../../../support/job-story.ts';

const reason = sampleFailure();

const stories: Record<JobState, JobEvent[]> = {
  received: storyUpTo('received'),
  inspected: storyUpTo('inspected'),
  encoding: storyUpTo('encoding'),
  joining: storyUpTo('joining'),
  checking: storyUpTo('checking'),
  delivered: storyUpTo('delivered'),
  held: [...storyUpTo('encoding'), { type: 'held', reason }],
  failed: [{ type: 'failed', reason }],
  cancelled: [{ type: 'cancelled' }],
};

const events: Record<string, (record: JobRecord) => JobEvent> = {
  received: () => receivedEvent(),
  planned: () => ({ type: 'planned', plan: samplePlan }),
  'open inspect': (record) => openedEvent(record.attempts.length + 1, 'inspect'),
  'open encode': (record) => openedEvent(record.attempts.length + 1, 'encode'),
  'open sound': (record) => openedEvent(record.attempts.length + 1, 'sound'),
  'open join': (record) => openedEvent(record.attempts.length + 1, 'join'),
  'open check': (record) => openedEvent(record.attempts.length + 1, 'check'),
  'open deliver': (record) => openedEvent(record.attempts.length + 1, 'deliver'),
  'remade some': () => ({ type: 'remade', grains: [1], fallback: 'grains', reason }),
  'remade none': () => ({ type: 'remade', grains: [], fallback: 'grains', reason }),
  'remade whole': () => ({ type: 'remade', grains: null, fallback: 'whole', reason }),
  replanned: () => ({ type: 'replanned', plan: samplePlan, reason }),
  held: () => ({ type: 'held', reason }),
  failed: () => ({ type: 'failed', reason }),
  cancelled: () => ({ type: 'cancelled' }),
  retried: () => ({ type: 'retried' }),
};

// prettier-ignore
const table: Record<JobState, Partial<Record<string, JobState>>> = {
  received: { 'open inspect': 'received' },
  inspected: { planned: 'inspected', replanned: 'inspected' },
  encoding: {
    'open encode': 'encoding',
    'open sound': 'encoding',
    replanned: 'inspected',
    'remade some': 'encoding',
    'remade none': 'encoding',
    'remade whole': 'encoding',
  },
  joining: {
    'open join': 'joining',
    replanned: 'inspected',
    'remade some': 'encoding',
    'remade none': 'joining',
    'remade whole': 'encoding',
  },
  checking: {
    'open check': 'checking',
    replanned: 'inspected',
    'remade some': 'encoding',
    'remade none': 'joining',
    'remade whole': 'encoding',
  },
  delivered: {},
  held: { retried: 'encoding', cancelled: 'cancelled' },
  failed: { retried: 'received', cancelled: 'cancelled' },
  cancelled: {},
};
const working: readonly JobState[] = ['received', 'inspected', 'encoding', 'joining', 'checking'];
for (const state of working)
  Object.assign(table[state], { held: 'held', failed: 'failed', cancelled: 'cancelled' });

describe.each(Object.keys(table) as JobState[])('a %s job', (state) => {
  it.each(Object.keys(events))('%s', (name) => {
    const record = tell(stories[state]);
    expect(record.state).toBe(state);
    const applied = applyEvent(record, events[name]?.(record) as JobEvent, 5000);
    const next = 'refused' in applied ? undefined : applied.record.state;
    expect(next).toBe(table[state][name]);
  });
});

it('starts inspected when the facts are known already', () => {
  const facts = tell(stories.inspected).facts;
  expect(tell([], receivedEvent({ facts }))).toMatchObject({ state: 'inspected', facts });
});
