-- The bytes of letters, beside their rows: a row is written three times while its
-- letter goes out, and each time all that lies in it.

-- +goose Up
CREATE TABLE outbox_raw (
	letter_id INTEGER PRIMARY KEY REFERENCES outbox (id),
	raw BLOB NOT NULL
) STRICT;
INSERT INTO outbox_raw (letter_id, raw) SELECT id, raw FROM outbox;
ALTER TABLE outbox DROP COLUMN raw;
-- The few letters that are leased are found by outbox_state.
DROP INDEX outbox_leased;
