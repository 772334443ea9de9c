// Tells a job's life event by event, for tests that need a job in a certain state.
import { applyEvent, beginRecord } from '../../coordinator/state/apply-event.ts';
import type { JobEvent } from '../../coordinator/state/job-events.ts';
import type { JobRecord } from '../../coordinator/state/job-record.ts';
import {
  endedEvent,
  openedEvent,
  receivedEvent,
  sampleGrain,
  samplePlan,
  sampleResult,
} from './job-builders.ts';

/** The events of a job on which everything goes well, up to where it would be in `state`. */
export function storyUpTo(
  state: 'received' | 'inspected' | 'encoding' | 'joining' | 'checking' | 'delivered',
): JobEvent[] {
  const steps: Record<typeof state, JobEvent[]> = {
    received: [],
    inspected: [openedEvent(1, 'inspect'), endedEvent(1, sampleResult('inspect'))],
    encoding: [{ type: 'planned', plan: samplePlan }, openedEvent(2, 'encode')],
    joining: [
      openedEvent(3, 'sound'),
      ...[0, 1, 2, 3, 4].map((index): JobEvent => ({ type: 'grain', attempt: 2, grain: sampleGrain(index) })),
      endedEvent(2, sampleResult('encode')),
      endedEvent(3, sampleResult('sound')),
    ],
    checking: [openedEvent(4, 'join'), endedEvent(4, sampleResult('join'))],
    delivered: [
      openedEvent(5, 'check'),
      endedEvent(5, sampleResult('check')),
      openedEvent(6, 'deliver'),
      endedEvent(6, sampleResult('deliver')),
    ],
  };
  const states = Object.keys(steps) as (typeof state)[];
  return states.slice(0, states.indexOf(state) + 1).flatMap((name) => steps[name]);
}

/** A new job after `events`, the k-th of them at 1000 + k ms. Throws when one is refused. */
export function tell(events: readonly JobEvent[], received = receivedEvent()): JobRecord {
  return events.reduce(
    (record, event, index) => mustApply(record, event, 1001 + index),
    beginRecord('jsample001', received, 1000),
  );
}

export function mustApply(record: JobRecord, event: JobEvent, atMs: number): JobRecord {
  const applied = applyEvent(record, event, atMs);
  if ('refused' in applied) throw new Error(`${event.type} was refused: ${applied.refused}`);
  return applied.record;
}
