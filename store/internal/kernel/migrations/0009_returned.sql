-- Mail that came back: bounces, complaints, automatic replies, each once.

-- +goose Up
-- hash is the SHA-256 of the message as it came, so that one that is handed in
-- twice counts once. letter_id is NULL for a message that names no letter of
-- ours; nothing was done about it.
CREATE TABLE returned (
	hash BLOB PRIMARY KEY,
	at INTEGER NOT NULL,
	kind TEXT NOT NULL,
	letter_id INTEGER REFERENCES outbox (id),
	address TEXT NOT NULL DEFAULT '',
	why TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;
CREATE INDEX returned_address ON returned (address, at);
CREATE INDEX returned_letter ON returned (letter_id) WHERE letter_id IS NOT NULL;

-- A report that quotes a letter finds it by this.
CREATE INDEX outbox_message ON outbox (message_id);
