// Names in the granary: `<job>/a<attempt>-<name>`. The attempt's number is in the name, so that no attempt can overwrite
// what another made (N7).
import { MillError } from '#shared/errors.ts';
import { attemptNumberSchema, jobIdSchema } from '#shared/schema-parts.ts';

export type GranaryName = { readonly jobId: string; readonly attempt: number; readonly name: string };

const namePattern = /^[a-zA-Z0-9][a-zA-Z0-9._-]{0,127}$/;

/** Throws MillError `bad-request` for what could be another place than the attempt's own. */
export function granaryFileName({ jobId, attempt, name }: GranaryName): string {
  const valid = jobIdSchema.safeParse(jobId).success && attemptNumberSchema.safeParse(attempt).success;
  if (valid && namePattern.test(name)) return `${jobId}/a${attempt}-${name}`;
  throw new MillError(
    'bad-request',
    `${JSON.stringify(name)} of attempt ${attempt} of ${jobId} is no name for a granary file`,
  );
}

/** Null for what is no granary file's name, whatever is found there. */
export function parseGranaryName(file: string): GranaryName | null {
  const [jobId = '', rest = '', ...more] = file.split('/');
  const [, number = '', name = ''] = /^a([1-9]\d{0,8})-(.*)$/s.exec(rest) ?? [];
  if (more.length > 0 || !jobIdSchema.safeParse(jobId).success || !namePattern.test(name)) return null;
  return { jobId, attempt: Number(number), name };
}
