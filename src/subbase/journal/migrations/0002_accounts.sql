-- Who may do what, and who saw what. Secrets are kept only as hashes.
CREATE TABLE accounts (
    id TEXT NOT NULL PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    role TEXT NOT NULL,
    password_hash TEXT NOT NULL,
    active INTEGER NOT NULL,
    made_at TEXT NOT NULL
);
CREATE TABLE job_access (
    job TEXT NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,
    account TEXT NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    PRIMARY KEY (job, account)
) {clustered};
CREATE INDEX job_access_by_account ON job_access (account, job);
CREATE TABLE sessions (
    token_hash TEXT NOT NULL PRIMARY KEY,
    account TEXT NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    csrf TEXT NOT NULL,
    made_at TEXT NOT NULL,
    used_at TEXT NOT NULL,
    ends_at TEXT NOT NULL
);
CREATE INDEX sessions_by_account ON sessions (account);
CREATE TABLE shares (
    token_hash TEXT NOT NULL PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    job TEXT NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,
    made_by TEXT NOT NULL,
    made_at TEXT NOT NULL,
    ends_at TEXT NOT NULL
);
CREATE INDEX shares_by_job ON shares (job);
CREATE TABLE audit (
    number {counted},
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    what TEXT NOT NULL,
    job TEXT NOT NULL,
    address TEXT NOT NULL
);
CREATE INDEX audit_by_job ON audit (job, number);
