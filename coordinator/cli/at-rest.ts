// Whether anything more happens to a job by itself.
import { type Report, restingStates } from '#shared/job.ts';

export function isAtRest({ state }: Pick<Report, 'state'>): boolean {
  return restingStates.includes(state);
}
