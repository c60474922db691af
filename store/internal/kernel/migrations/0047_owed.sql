-- Emails that a change has still to have queued: written in the change's transaction and
-- taken out once the email waits, so that a daemon that is killed in between makes up for it.

-- +goose Up
CREATE TABLE owed (
	id INTEGER PRIMARY KEY,
	step TEXT NOT NULL,
	customer_id TEXT NOT NULL,
	subjects TEXT NOT NULL, -- what it is about, a line each
	at INTEGER NOT NULL
) STRICT;
