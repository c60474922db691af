-- What shops of one owner tell one another about email addresses.

-- +goose Up
-- The sister shop in which it was said, or the address found dead; '' for this one.
ALTER TABLE opt_outs ADD COLUMN said_at TEXT NOT NULL DEFAULT '';
ALTER TABLE suppressions ADD COLUMN found_at TEXT NOT NULL DEFAULT '';

-- Addresses in lower case that were dead and are used again, and since when: a sister
-- shop that found one dead before that uses it again too.
CREATE TABLE revived (
	address TEXT PRIMARY KEY,
	since INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
