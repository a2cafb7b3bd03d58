-- Tokens for scripts, first passwords that must be changed, secrets of the server; what was written into the record stays.
ALTER TABLE accounts ADD COLUMN first_until TEXT NOT NULL DEFAULT '';
CREATE TABLE tokens (
    token_hash TEXT NOT NULL PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    account TEXT NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    name TEXT NOT NULL,
    made_at TEXT NOT NULL,
    used_at TEXT NOT NULL,
    ends_at TEXT NOT NULL
);
CREATE INDEX tokens_by_account ON tokens (account);
CREATE TABLE secrets (
    name TEXT NOT NULL PRIMARY KEY,
    secret TEXT NOT NULL
);
{audit_unchanged};
{audit_undeleted};
