// Schema version 1: events are the truth, everything else is kept beside them in the same transaction.

export const migration1 = `
  CREATE TABLE jobs (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    batch_id TEXT,
    state TEXT NOT NULL,
    summary TEXT NOT NULL
  ) STRICT;
  CREATE INDEX jobs_by_state ON jobs (state, number);
  CREATE INDEX jobs_by_batch ON jobs (batch_id, number) WHERE batch_id IS NOT NULL;

  CREATE TABLE events (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    job_id TEXT NOT NULL REFERENCES jobs (id),
    at_ms INTEGER NOT NULL,
    type TEXT NOT NULL,
    data TEXT NOT NULL
  ) STRICT;
  CREATE INDEX events_by_job ON events (job_id, seq);

  CREATE TABLE idempotency_keys (
    key TEXT PRIMARY KEY,
    fingerprint TEXT NOT NULL,
    job_id TEXT NOT NULL REFERENCES jobs (id)
  ) STRICT;

  CREATE TABLE known_facts (
    source TEXT PRIMARY KEY,
    bytes INTEGER NOT NULL,
    modified_ms REAL NOT NULL,
    facts TEXT NOT NULL
  ) STRICT;
`;
