-- A code at sign-in from a device of one's own, with spare codes kept only as hashes; the record found by person.
ALTER TABLE accounts ADD COLUMN code_key TEXT NOT NULL DEFAULT '';
ALTER TABLE accounts ADD COLUMN code_since TEXT NOT NULL DEFAULT '';
ALTER TABLE accounts ADD COLUMN code_step BIGINT NOT NULL DEFAULT 0;
CREATE TABLE spare_codes (
    code_hash TEXT NOT NULL PRIMARY KEY,
    account TEXT NOT NULL REFERENCES accounts (id) ON DELETE CASCADE
);
CREATE INDEX spare_codes_by_account ON spare_codes (account);
CREATE INDEX audit_by_who ON audit (who, number);
