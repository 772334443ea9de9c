// Which of a job's files in the granary are still needed.
import { isWorking } from '../state/apply-event.ts';
import { type JobRecord, openAttempts } from '../state/job-record.ts';

export type KeptFiles = {
  readonly files: ReadonlySet<string>;
  /** Attempts that are under way: they may have stored files that they haven't reported yet. */
  readonly attempts: ReadonlySet<number>;
};

/** Null (an unknown job) and jobs that are over need nothing; a held job may be retried and needs what it has. */
export function keptFiles(record: JobRecord | null): KeptFiles {
  if (record === null || !(isWorking(record.state) || record.state === 'held'))
    return { files: new Set(), attempts: new Set() };
  const stored = [
    ...record.grains.values(),
    ...(record.sound ?? []),
    ...(record.joined === null ? [] : [record.joined]),
  ];
  return {
    files: new Set(stored.map(({ file }) => file)),
    attempts: new Set(openAttempts(record).map((attempt) => attempt.number)),
  };
}
