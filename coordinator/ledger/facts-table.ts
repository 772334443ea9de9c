// What inspections found, by source, so that an unchanged file isn't inspected again. Only the newest is kept.
import type { DatabaseSync } from 'node:sqlite';
import { z } from 'zod';
import { type MediaFacts, mediaFactsSchema } from '#shared/facts.ts';

export type FactsTable = {
  find(source: string, bytes: number, modifiedMs: number): MediaFacts | null;
  put(source: string, facts: MediaFacts): void;
};

export function createFactsTable(database: DatabaseSync): FactsTable {
  const find = database.prepare(
    'SELECT facts FROM known_facts WHERE source = ? AND bytes = ? AND modified_ms = ?',
  );
  const put = database.prepare(
    'INSERT OR REPLACE INTO known_facts (source, bytes, modified_ms, facts) VALUES (?, ?, ?, ?)',
  );
  return {
    find(source, bytes, modifiedMs) {
      const row = find.get(source, bytes, modifiedMs);
      if (row === undefined) return null;
      // Facts of another version's shape are as good as none: the file is inspected again.
      const facts = mediaFactsSchema.safeParse(JSON.parse(z.object({ facts: z.string() }).parse(row).facts));
      return facts.success ? facts.data : null;
    },
    put: (source, facts) => void put.run(source, facts.bytes, facts.modifiedMs, JSON.stringify(facts)),
  };
}
