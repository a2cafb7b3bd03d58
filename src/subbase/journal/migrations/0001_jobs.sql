-- Jobs, their events and their photos. {bytes} and {clustered} are written as each database says them.
CREATE TABLE jobs (
    id TEXT NOT NULL PRIMARY KEY,
    name TEXT NOT NULL,
    search TEXT NOT NULL,
    last_sequence BIGINT NOT NULL,
    chain TEXT NOT NULL,
    made_at TEXT NOT NULL,
    changed_at TEXT NOT NULL
);
CREATE INDEX jobs_by_change ON jobs (changed_at, id);
CREATE TABLE events (
    job TEXT NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,
    sequence BIGINT NOT NULL,
    key TEXT NOT NULL,
    kind TEXT NOT NULL,
    actor TEXT NOT NULL,
    device TEXT NOT NULL,
    made_at TEXT NOT NULL,
    received_at TEXT NOT NULL,
    seen BIGINT NOT NULL,
    packed INTEGER NOT NULL,
    body {bytes} NOT NULL,
    chain TEXT NOT NULL,
    PRIMARY KEY (job, sequence),
    UNIQUE (job, key)
) {clustered};
CREATE TABLE photos (
    hash TEXT NOT NULL PRIMARY KEY,
    mime TEXT NOT NULL,
    width INTEGER NOT NULL,
    height INTEGER NOT NULL,
    preview {bytes} NOT NULL,
    bytes {bytes} NOT NULL
);
CREATE TABLE job_photos (
    job TEXT NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,
    hash TEXT NOT NULL REFERENCES photos (hash),
    PRIMARY KEY (job, hash)
) {clustered};
CREATE INDEX job_photos_by_hash ON job_photos (hash);
