// A failure as it crosses processes and is kept in the ledger (N9): stage, machine, command, decisive line, what to do.
import { z } from 'zod';
import { type ErrorCode, errorKinds, MillError } from './errors.ts';

const codes = Object.keys(errorKinds) as [ErrorCode, ...ErrorCode[]];

export const failureSchema = z.strictObject({
  code: z.enum(codes),
  /** One sentence: what happened, where, what to do. */
  message: z.string(),
  /** The task kind or coordinator step in which it happened. */
  stage: z.string(),
  /** Name of the machine; absent when the coordinator itself failed. */
  machine: z.string().optional(),
  details: z
    .record(z.string(), z.union([z.string(), z.number(), z.boolean(), z.array(z.string())]))
    .default({}),
});
export type Failure = z.infer<typeof failureSchema>;

/** Any thrown value as a failure of `stage`. Unknown errors become `internal` with their own message. */
export function toFailure(error: unknown, stage: string, machine?: string): Failure {
  const where = machine === undefined ? {} : { machine };
  if (error instanceof MillError) {
    return { code: error.code, message: error.message, stage, ...where, details: copyDetails(error) };
  }
  const message = error instanceof Error ? error.message : String(error);
  const stack = error instanceof Error && error.stack ? { stack: error.stack } : {};
  return { code: 'internal', message: `fault in ${stage}: ${message}`, stage, ...where, details: stack };
}

function copyDetails(error: MillError): Failure['details'] {
  return Object.fromEntries(
    Object.entries(error.details).map(([key, value]) => [key, Array.isArray(value) ? [...value] : value]),
  ) as Failure['details'];
}
