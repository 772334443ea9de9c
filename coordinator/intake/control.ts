// What an editor can do with a job that is there: cancel it, or have a resting one tried again.
import { MillError } from '#shared/errors.ts';
import type { Control } from '../api/api-ports.ts';
import type { JobBook } from '../ledger/job-book.ts';
import type { JobEvent } from '../state/job-events.ts';

export function createControl(book: JobBook, wake: () => void): Control {
  const record = (jobId: string, event: JobEvent) => {
    const recorded = book.record(jobId, event);
    if ('refused' in recorded)
      throw new MillError('wrong-state', `${jobId} cannot be ${event.type}: ${recorded.refused}`);
    wake();
    return recorded.record;
  };
  return {
    cancel: (jobId) => record(jobId, { type: 'cancelled' }),
    retry: (jobId) => record(jobId, { type: 'retried' }),
  };
}
