// The answer to an event: the next record, or why the event doesn't fit. Nothing changes when it is refused (N7).
import type { JobRecord } from './job-record.ts';

export type Applied = { readonly record: JobRecord } | { readonly refused: string };
