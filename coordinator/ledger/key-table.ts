// Idempotency keys: which job a request made, so that asking again never makes a second one.
import type { DatabaseSync } from 'node:sqlite';
import { z } from 'zod';

export type KeyTable = {
  find(key: string): { jobId: string; fingerprint: string } | null;
  insert(key: string, fingerprint: string, jobId: string): void;
};

const rowSchema = z.object({ job_id: z.string(), fingerprint: z.string() });

export function createKeyTable(database: DatabaseSync): KeyTable {
  const find = database.prepare('SELECT job_id, fingerprint FROM idempotency_keys WHERE key = ?');
  const insert = database.prepare('INSERT INTO idempotency_keys (key, fingerprint, job_id) VALUES (?, ?, ?)');
  return {
    find(key) {
      const row = find.get(key);
      if (row === undefined) return null;
      const { job_id: jobId, fingerprint } = rowSchema.parse(row);
      return { jobId, fingerprint };
    },
    insert: (key, fingerprint, jobId) => void insert.run(key, fingerprint, jobId),
  };
}
