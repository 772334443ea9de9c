// What zod found, in the words of someone who edits a configuration: which key, and what was expected there.
import type { z } from 'zod';

type Issue = z.core.$ZodIssue;

/** A problem at one key: its path, and the sentence without it. */
export type Finding = { readonly path: readonly PropertyKey[]; readonly message: string };

/** `known` lists the keys that may stand at a path. A wrong key is a finding at its own path. */
export function findingsOf(
  issue: Issue,
  known: (path: readonly PropertyKey[]) => readonly string[],
): Finding[] {
  if (issue.code === 'unrecognized_keys') {
    const allowed = known(issue.path);
    const hint = allowed.length > 0 ? `; expected one of ${allowed.join(', ')}` : '';
    return issue.keys.map((key) => ({ path: [...issue.path, key], message: `there is no such key${hint}` }));
  }
  const message = issue.code === 'invalid_key' ? (issue.issues[0]?.message ?? issue.message) : issue.message;
  return [{ path: issue.path, message: message.replace(/^Invalid (input|option): /, '') }];
}

export function formatFinding(where: string, { path, message }: Finding): string {
  return path.length > 0 ? `${where}: ${path.map(String).join('.')}: ${message}` : `${where}: ${message}`;
}
